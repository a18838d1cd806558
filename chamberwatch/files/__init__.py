"""Files of others and for others: tables written out whole or not at all, logs of other hands."""
