"""A class in its folder: roster, releases, submissions, and the marks in its gradebook.

Lives here: what an instructor does with a class. May not live here: how a submission is run.
"""
