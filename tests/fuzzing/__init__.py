"""A fuzzer of the project's own: jobs, drawings and records from a seed, run through the commands and looked at."""
