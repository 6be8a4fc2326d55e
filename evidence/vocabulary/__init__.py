"""Names of the trade: regions, exercises, outcomes, designs, people, units; data files with their sources."""
