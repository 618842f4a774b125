"""Everything about the build stands in pyproject.toml, except what it can't say.

The folder `profiles/` lies beside the package, where people find it, and is installed inside of it. What an earlier
build left in `build/` is removed first: a module that was deleted since would be shipped again.
"""

import re
import shutil
from pathlib import Path

from setuptools import find_packages, setup
from setuptools.command.build import build


class FreshBuild(build):
    """A build that starts from nothing."""

    def run(self) -> None:
        """Remove what an earlier build left, then build."""
        shutil.rmtree(Path(self.build_lib), ignore_errors=True)
        super().run()


def front_page() -> str:
    """README.md without its pictures: they lie beside it, where the page of a package cannot show them."""
    text = Path("README.md").read_text(encoding="utf-8")  # a build stands in the folder of the tree
    return re.sub(r"^(\|.*\n)*\| !\[.*\n\n?|^!\[.*\n", "", text, flags=re.MULTILINE)


setup(
    long_description=front_page(),
    long_description_content_type="text/markdown",
    packages=[*find_packages(include=["mixclock", "mixclock.*"]), "mixclock.shippedprofiles"],
    package_dir={"mixclock.shippedprofiles": "profiles"},
    cmdclass={"build": FreshBuild},
)
