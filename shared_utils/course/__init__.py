"""The course as a whole: its lessons, where they lie, and who works here.

Lives here: the list of lessons and the folder of the course. May not live here: what a page or a
problem set does.
"""
