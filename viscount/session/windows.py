"""Observers that stay when their run has ended: windows, until somebody closes them."""

from multiprocessing.process import BaseProcess

END_WAIT_S = 1.0


class Windows:
    """The processes of a run's windows. They see the run end, and end when they are closed."""

    def __init__(self) -> None:
        self._open: list[BaseProcess] = []

    def __len__(self) -> int:
        return sum(process.is_alive() for process in self._open)

    def add(self, process: BaseProcess) -> None:
        """Look after a window that was opened."""
        self._open.append(process)

    def wait(self) -> None:
        """Wait until all are closed; Ctrl-C closes them."""
        try:
            for process in self._open:
                process.join()
        except KeyboardInterrupt:
            pass
        finally:
            self.end()

    def end(self) -> None:
        """Close those that are still open; harmless when repeated."""
        for process in self._open:
            if process.is_alive():
                process.terminate()
                process.join(END_WAIT_S)
            if process.is_alive():
                process.kill()
                process.join()
            process.close()
        self._open = []
