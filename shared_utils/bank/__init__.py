"""The item bank: questions, the values they are computed from, and how one is posed.

Lives here: items and their values. May not live here: graded problems, and when an item is asked.
"""
