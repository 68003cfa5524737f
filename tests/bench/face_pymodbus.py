#!/usr/bin/python3
"""pymodbus's asynchronous server, for the benchmark's comparison. Prints "port N"."""
import asyncio

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server.async_io import ModbusTcpServer


async def main():
    block = ModbusSequentialDataBlock(0, [0] * 1000)
    store = ModbusSlaveContext(di=block, co=block, hr=block, ir=block, zero_mode=True)
    server = ModbusTcpServer(ModbusServerContext(slaves=store, single=True), address=("127.0.0.1", 0))
    task = asyncio.create_task(server.serve_forever())
    await server.serving
    print("port", server.server.sockets[0].getsockname()[1], flush=True)
    await task


asyncio.run(main())
