"""Grading one submission, in four domains of trust.

================ ============================================================================
``supervisor``   starts everything, decides what counts, writes the gradebook
``trusted``      the examiner: runs the instructor's tests, in a process of its own
``inside``       runs in the learner's sandbox, beside code that nobody trusts
``kernel_pool``  forks kernels that have imported what they need; runs no line of a learner's
================ ============================================================================

``wire_format`` is the plain data that may cross between ``inside`` and the others.
"""
