"""References into the catalogue, once each, found again, with what is known against them."""
