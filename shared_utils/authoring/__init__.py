"""For whoever writes lessons: what is covered, what is missing.

Lives here: rules about lessons, sets and items. May not live here: anything that a learner needs.
"""
