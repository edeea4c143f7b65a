"""What a problem set imports: checks, the learner's own numbers, the button that checks.

Lives here: all that a learner's notebook may import, and checking by oneself. May not live here:
hidden tests, marks, and anything that an instructor alone may see.
"""
