"""What can be found on a panel, with what is at hand: each fault against each reach, and what would tell more apart."""
