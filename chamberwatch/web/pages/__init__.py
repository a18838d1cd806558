"""The pages a grower opens."""
