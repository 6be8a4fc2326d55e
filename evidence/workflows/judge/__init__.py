"""Risk of bias of a study: asked, proposed, chosen, told."""
