"""The process that kernels are forked from; it runs no line of a learner's and knows no secret."""

MAX_MESSAGE_BYTES = 65_536  # of one request to it
