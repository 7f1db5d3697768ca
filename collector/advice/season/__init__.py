"""The season of a bed: how far it is, and what that asks of the grower. One module a job, rule and words together."""
