"""The optics behind choosing a lens for a cataract patient, floor by floor.

The floors, ground first; a floor imports only from floors named above it:

========== ==========================================================
optics     light alone: numpy and scipy, no drawing, no files
power      from a measured eye to a lens, and back to a refraction
choice     which class of lens suits which eye; which glasses remain
clinic     invented patients, learners and cohorts, from a seed
show       figures, in one style
explore    sliders, from one engine
coursework text to notebooks, numbers per learner, checks, grading
practice   items to recall and to check oneself
cli        the command ``lens-course``
========== ==========================================================

Importing this package imports no floor: ask for the one you need.
Everything here is for learning, not for patient care.
"""

__version__ = "0.1.0"

CAUTION = (
    "For learning, not for patient care: follow the lens's labelling, local rules and the "
    "judgement of a licensed practitioner."
)
