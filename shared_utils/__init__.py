"""The optics behind choosing a lens for a cataract patient, floor by floor.

The floors, ground first; a floor imports only from floors named above it:

========== ==========================================================
optics     light alone: numpy and scipy, no drawing, no files
power      from a measured eye to a lens, and back to a refraction
choice     which class of lens suits which eye; which glasses remain
clinic     invented patients, learners and cohorts, from a seed
course     the lessons, where they lie, who works here
cases      the numbers of the lessons, one module a lesson
show       figures, in one style
explore    sliders, from one engine
pages      text to notebooks and back, the book, the server
problems   what a problem set imports: checks, numbers, the button
bank       items, and the values that they are computed from
practice   spaced review and the mock examination
grading    one submission, in four domains of trust
classroom  a class in its folder: roster, releases, marks
standards  OneRoster, QTI and xAPI
lti        starts from a learning platform, marks sent back
reports    what a class has understood
authoring  for whoever writes lessons: coverage and rules
commands   one module for each group of commands
cli        the command ``lens-course``
========== ==========================================================

Importing this package imports no floor: ask for the one you need.
Everything here is for learning, not for patient care.
"""

__version__ = "0.2.0"

CAUTION = (
    "For learning, not for patient care: follow the lens's labelling, local rules and the "
    "judgement of a licensed practitioner."
)
