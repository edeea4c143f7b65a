"""Which class of lens suits which eye, and which glasses remain.

Lives here: findings, rules with their sources, tasks. May not live here: drawing, notebooks.
"""
