"""Items to recall and to check oneself.

Lives here: the item bank and how an item is asked. May not live here: graded problems.
"""
