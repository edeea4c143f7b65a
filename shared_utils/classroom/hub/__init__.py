"""A class on a JupyterHub: files for a machine of its own, and a hub for a trial.

Lives here: what a hub needs beside nbgrader. May not live here: how a submission is marked.
"""
