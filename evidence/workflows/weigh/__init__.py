"""A claim weighed: pooled, judged, rated and told; one evaluator for each kind of claim."""
