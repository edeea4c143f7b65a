"""The supervisor: starts the other processes, decides what counts, writes the gradebook."""
