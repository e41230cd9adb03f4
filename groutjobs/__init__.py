"""Job tracker for grouting machines to their foundations."""
