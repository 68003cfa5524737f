#!/usr/bin/python3
"""pymodbus's asynchronous server, for the benchmark's comparison. Prints "port N"."""
import asyncio

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext

try:
    from pymodbus.server import ModbusTcpServer
except ImportError:  # version 3.0, Debian 12's
    from pymodbus.server.async_io import ModbusTcpServer


async def listening(server):
    """The socket, once the server listens. In version 3.0, serving is done then; later, only when the server ends."""
    task = asyncio.create_task(server.serve_forever())
    while not (listener := getattr(server, "server", None) or getattr(server, "transport", None)):
        if task.done():
            raise RuntimeError(f"the server ended at once: {task.exception()}")
        await asyncio.sleep(0.01)
    return listener.sockets[0], task


async def main():
    block = ModbusSequentialDataBlock(0, [0] * 1001)
    store = ModbusSlaveContext(di=block, co=block, hr=block, ir=block)
    socket, task = await listening(ModbusTcpServer(ModbusServerContext(slaves=store, single=True), address=("127.0.0.1", 0)))
    print("port", socket.getsockname()[1], flush=True)
    await task


asyncio.run(main())
