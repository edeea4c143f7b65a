"""Reports for an instructor, from the gradebook.

Lives here: what a class has understood. May not live here: marking.
"""
