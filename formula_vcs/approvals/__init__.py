"""Who approved which version of what: signatures, the trust that they are judged by, and how a version stands."""
