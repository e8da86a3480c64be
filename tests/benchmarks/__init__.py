"""How quick it is, as ratios: each module is run by hand."""

import diagnose  # noqa: F401 - before numpy, since it tells numpy's linear algebra to keep to one thread
