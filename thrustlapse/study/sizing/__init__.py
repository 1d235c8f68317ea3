"""When would it win: each kind freely sized, re-optimised at every point of a domain."""
