"""The commands of ``lens-course``, one module for each group.

Lives here: reading arguments, asking the floors below, printing. May not live here: anything that
a notebook or a test would want without the command line. Each module has ``add_to(commands)``,
which adds its parsers and sets ``run``; ``run(arguments)`` returns the exit code.
"""
