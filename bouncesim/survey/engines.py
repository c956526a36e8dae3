"""Where the pieces of a survey are worked off: in threads of this process, or on a cluster."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, ThreadPoolExecutor, wait
from contextlib import suppress
from typing import Any, Protocol

from bouncesim import __version__
from bouncesim.errors import BouncesimError, OptionError

IN_HAND = 4  # pieces a thread or worker has waiting, so that none of them stands idle
PATIENCE_S = 2e-4  # that a thread waits for another's Python: less than a station takes to be built
Task = tuple[Any, ...]  # the arguments of one piece


class Engine(Protocol):
    """Calls a function with each of many arguments, and hands over (arguments, result) as each is done, in any order."""

    def each(self, function: Callable[..., Any], tasks: Iterable[Task]) -> Iterator[tuple[Task, Any]]: ...

    def close(self) -> None: ...


class Threads:
    """So many threads; with one, everything is done where it is asked for."""

    def __init__(self, count: int) -> None:
        self.count = count

    def each(self, function: Callable[..., Any], tasks: Iterable[Task]) -> Iterator[tuple[Task, Any]]:
        """See Engine. When it is left early, pieces that were not begun are dropped."""
        if self.count == 1:
            yield from ((task, function(*task)) for task in tasks)
            return
        pool, waiting, left = ThreadPoolExecutor(self.count), dict[Future[Any], Task](), iter(tasks)
        patience = sys.getswitchinterval()
        sys.setswitchinterval(PATIENCE_S)
        try:
            while True:
                for task in itertools.islice(left, IN_HAND * self.count - len(waiting)):
                    waiting[pool.submit(function, *task)] = task
                if not waiting:
                    return
                for done in wait(waiting, return_when=FIRST_COMPLETED).done:
                    yield waiting.pop(done), done.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
            sys.setswitchinterval(patience)

    def close(self) -> None:
        """Nothing is held."""


class Cluster:
    """A cluster of dask.distributed by the address of its scheduler, such as "tcp://192.0.2.7:8786"."""

    def __init__(self, address: str) -> None:
        """OptionError without the extra called cluster, or where nothing answers, or where a worker has another bouncesim."""
        try:
            import distributed
        except ImportError as error:
            raise OptionError("A cluster needs the extra of that name: install bouncesim[cluster].") from error
        try:
            self.library: Any = distributed
            self.client: Any = self.library.Client(address, timeout="10 s", set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            raise OptionError(
                f"No cluster answers at {address}. Give the address that its scheduler prints, such as tcp://HOST:8786."
            ) from error
        versions = self.client.run(_version)
        if not versions or set(versions.values()) != {__version__}:
            self.close()
            told = ", ".join(sorted({str(version) for version in versions.values()})) or "no workers"
            raise OptionError(f"The workers of {address} have {told}; each needs bouncesim {__version__}, as here.")

    def each(self, function: Callable[..., Any], tasks: Iterable[Task]) -> Iterator[tuple[Task, Any]]:
        """See Engine."""
        left, most = iter(tasks), IN_HAND * max(sum(self.client.ncores().values()), 1)
        waiting = {self.client.submit(function, *task, pure=False): task for task in itertools.islice(left, most)}
        with self.client.as_current():
            done = self.library.as_completed(list(waiting))
        try:
            for future in done:
                yield waiting.pop(future), future.result()
                for task in itertools.islice(left, 1):
                    new = self.client.submit(function, *task, pure=False)
                    waiting[new] = task
                    done.add(new)
        except (OSError, CancelledError, self.library.scheduler.KilledWorker) as error:
            told = str(error) or type(error).__name__
            raise BouncesimError(f"The cluster was lost: {told}. What was found is kept: the same command goes on with it.") from error
        finally:
            with suppress(OSError, CancelledError):
                self.client.cancel(list(waiting))

    def close(self) -> None:
        """Leave the cluster as it is."""
        with suppress(OSError, RuntimeError):
            self.client.close()


def _version() -> str:
    from bouncesim import __version__ as own

    return own
