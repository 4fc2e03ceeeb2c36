"""From a request's bytes to a dataclass, and from a result to an answer in the form asked for."""
