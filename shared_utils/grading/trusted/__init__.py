"""The examiner's process: runs the instructor's tests and sees values, never the learner's code."""
