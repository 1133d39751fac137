"""Several fields, balers and rigs: which works where and when, and how near to the best it is."""
