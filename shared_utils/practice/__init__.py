"""Practice spaced over days, and the mock examination.

Lives here: when an item is asked and what came of it. May not live here: the items.
"""
