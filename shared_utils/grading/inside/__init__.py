"""What runs inside the learner's sandbox; a learner's code may replace any of it."""
