"""What pyproject.toml can't say: the songs in forms/ are installed as the folder backing/demos."""

from setuptools import find_packages, setup

DEMOS = "backing.demos"

setup(
    packages=[*find_packages(include=["backing*"]), DEMOS],
    package_dir={DEMOS: "forms"},
    package_data={
        "backing": ["py.typed"],
        "backing.chart": ["*.typ"],
        "backing.page": ["*.css", "*.html", "*.js"],
        DEMOS: ["*.yaml", "README.md"],
    },
)
