"""The page: what a keeper looks at every day, served by the daemon itself. Nothing here decides; it shows and asks."""
