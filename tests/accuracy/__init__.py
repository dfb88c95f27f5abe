"""How true our readings are: simulated cameras photograph places whose light is known, and we meter the photos."""
