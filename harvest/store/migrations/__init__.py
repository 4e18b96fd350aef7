"""The steps that take an orchard's tables from one version to the next."""
