"""Text to notebooks, numbers per learner, checks, and grading.

Lives here: everything between the hand-written text and a mark in the gradebook. May not live
here: optics, and what a lesson shows.
"""
