"""What nbgrader does with a submission in this course: its settings and the steps that differ.

Lives here: what runs inside nbgrader, whether a command or the form grader starts it. May not live
here: the class's folders, rosters and reports; see ``classroom``.
"""
