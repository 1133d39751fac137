"""The sample farm travels inside the built package; its only source is ``sample_forecasts``."""

from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

SAMPLE = "sample_forecasts"


class WithSample(build_py):
    """Copies the sample beside the modules of a built package; a working tree has its own."""

    def run(self) -> None:
        """The usual build, then the sample."""
        super().run()
        if self.editable_mode:
            return
        for source in sorted(Path(SAMPLE).rglob("*")):
            if source.is_file() and not source.name.startswith("."):
                place = Path(self.build_lib) / "hayweather" / source
                place.parent.mkdir(parents=True, exist_ok=True)
                self.copy_file(str(source), str(place))


setup(cmdclass={"build_py": WithSample})
