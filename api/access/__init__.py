"""Who may do what: persons, roles, tokens, the table of operations, and what stands before all."""
