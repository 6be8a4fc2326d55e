"""How the property tests run: a slow machine is no failure, and the gate draws the same examples each time."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("anywhere", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("gate", settings.get_profile("anywhere"), derandomize=True, print_blob=True)
settings.load_profile("gate" if os.environ.get("CI") else "anywhere")
