"""Pages: text to notebooks and back, the static book, the first page, the server.

Lives here: how a page is written and opened. May not live here: what a lesson computes or asks.
"""
