"""The buying decision: quotes, landed estimates, order policies; pure, without files and database."""
