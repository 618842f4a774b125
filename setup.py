"""Everything about the build stands in pyproject.toml, except what it can't say.

The folder `profiles/` lies beside the package, where people find it, and is installed inside of it.
"""

from setuptools import find_packages, setup

setup(
    packages=[*find_packages(include=["mixclock", "mixclock.*"]), "mixclock.shippedprofiles"],
    package_dir={"mixclock.shippedprofiles": "profiles"},
)
