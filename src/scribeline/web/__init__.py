"""The shop app: the same plan in a browser on this machine, or on a tablet in the shop's own network."""
