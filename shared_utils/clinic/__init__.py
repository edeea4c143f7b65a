"""Invented patients, learners and cohorts, each from a seed.

Lives here: people who never lived. May not live here: drawing, and any real person's data.
"""
