"""A kernel for one submission: from the kernel pool where there is one, and with no fixed waits.

Jupyter's own extension points: a provisioner, which starts and ends the kernel, and a client.
"""

from __future__ import annotations

import contextlib
import logging
import os
import subprocess
from importlib.metadata import EntryPoint
from queue import Empty
from time import monotonic
from typing import TYPE_CHECKING

import zmq
from jupyter_client.asynchronous import AsyncKernelClient
from jupyter_client.provisioning import KernelProvisionerFactory, LocalProvisioner
from nbclient.util import ensure_async
from traitlets import Instance, List

from shared_utils.grading.supervisor import kernel_pool_client
from shared_utils.grading.supervisor.sandbox import START_KERNEL, Sandbox

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from jupyter_client import KernelManager

NAME = "lens-course"
RECONNECT_MS = 5


class Provisioner(LocalProvisioner):
    """Starts a kernel in its sandbox, from the kernel pool if there is one."""

    sandbox = Instance(Sandbox)
    modules: List[str] = List()

    async def launch_kernel(self, cmd, **kwargs):
        arguments = cmd[cmd.index(START_KERNEL) + 1 :]
        try:
            self.process = kernel_pool_client.current_pool().start_kernel(
                self.sandbox, arguments, kwargs["env"], self.modules
            )
        except OSError as error:
            kernel_pool_client.stop_pool()
            logging.getLogger("traitlets").warning("This kernel starts cold: %s", error)
            quiet = dict.fromkeys(("stdout", "stderr"), subprocess.DEVNULL)
            return await super().launch_kernel(cmd, **{**kwargs, **quiet})
        self.pid, self.pgid, self.cwd = self.process.pid, None, kwargs["cwd"]
        return self.connection_info

    async def kill(self, restart=False):
        await super().kill(restart)
        if self.process:
            self.process.wait()  # no need to look every tenth of a second


# known without being installed, as a worker's package may not be
KernelProvisionerFactory.instance().provisioners[NAME] = EntryPoint(
    NAME, f"{__name__}:Provisioner", KernelProvisionerFactory.GROUP_NAME
)


class Client(AsyncKernelClient):
    """A client that takes a flood of output slowly, and an answer at once."""

    def _context_default(self):
        context = super()._context_default()
        # a flood waits in the kernel instead of filling the memory here
        context.setsockopt(zmq.RCVHWM, 32)
        context.setsockopt(zmq.MAXMSGSIZE, 8 * 2**20)
        # the first attempt comes before the kernel listens
        context.setsockopt(zmq.RECONNECT_IVL, RECONNECT_MS)
        return context

    def start_channels(self, *_: Any, **__: Any) -> None:
        # the process itself tells whether it is alive
        super().start_channels(hb=False)

    async def wait_for_ready(self, timeout=None):
        end = monotonic() + (timeout or float("inf"))
        sent = set()
        while monotonic() < end:
            sent.add(self.kernel_info())
            with contextlib.suppress(Empty):
                reply = await ensure_async(self.shell_channel.get_msg(timeout=1))
                if reply["parent_header"].get("msg_id") in sent:
                    # what is printed comes through too
                    await ensure_async(self.iopub_channel.get_msg(timeout=1))
                    self._handle_kernel_info_reply(reply)
                    return
            if not await self._async_is_alive():
                raise RuntimeError("The kernel ended before it was ready.")
        raise RuntimeError(f"The kernel was not ready in {timeout} s.")


def prepare(manager: KernelManager, sandbox: Sandbox, modules: Sequence[str]) -> None:
    """Make a kernel manager start its kernel in a sandbox, with modules imported beforehand."""
    manager.client_factory = Client
    manager.connection_file = str(sandbox.sockets / "kernel.json")
    spec = manager.kernel_spec
    assert spec is not None  # that of Python itself
    spec.argv = sandbox.command()
    config = {"sandbox": sandbox, "modules": modules}
    provisioner = {"provisioner_name": NAME, "config": config}
    spec.metadata = {**spec.metadata, "kernel_provisioner": provisioner}
    if sandbox.isolated:
        # a signal would reach bubblewrap and not the kernel
        spec.interrupt_mode = "message"
    if os.name != "nt":
        # files that only this user can open, with an absolute path: the kernel runs elsewhere
        manager.transport, manager.ip = "ipc", str(sandbox.sockets / "kernel")
