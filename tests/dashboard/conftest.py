from __future__ import annotations

from collections.abc import Iterator

import pytest

from harvest import service
from harvest.store.orchard import Orchard
from tests.dashboard.orchards import hostile_orchard


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Orchard]:
    """The invented demo orchard."""
    orchard = service.build_demo(str(tmp_path_factory.mktemp("demo") / "demo.sqlite"))
    yield orchard
    orchard.engine.dispose()


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Orchard]:
    """An orchard of hostile names."""
    folder = tmp_path_factory.mktemp("hostile")
    orchard = hostile_orchard(str(folder / "hostile.sqlite"), folder)
    yield orchard
    orchard.engine.dispose()
