"""Starting the course from a learning platform by LTI 1.3, and sending marks back to it.

============ ================================================================
``settings`` what the class's folder keeps: addresses, platforms, the keys
``learners`` which id of a platform is which learner of the roster
``launch``   login and launch, checked; choosing a set by deep linking
``pages``    the plain pages that a browser is shown
``server``   the addresses that a platform calls
``scores``   marks sent to a platform's gradebook
============ ================================================================

Tokens, signatures and services are those of pylti1p3next and PyJWT (extra ``lti``).
"""
