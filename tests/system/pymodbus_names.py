"""pymodbus under one set of names. Debian 12 has its version 3.0 and Debian 13 its version 3.8, which moved the modules and
renamed the arguments; what either version's client sends and understands is left as it is."""
import inspect
import logging

from pymodbus.client import ModbusTcpClient

try:
    from pymodbus.pdu.bit_message import ReadCoilsRequest
    from pymodbus.pdu.diag_message import ReturnQueryDataRequest
    from pymodbus.pdu.file_message import ReadFifoQueueRequest
    from pymodbus.pdu.mei_message import ReadDeviceInformationRequest
    from pymodbus.pdu.other_message import (GetCommEventCounterRequest, GetCommEventLogRequest, ReadExceptionStatusRequest,
                                            ReportSlaveIdRequest)
    from pymodbus.pdu.register_message import MaskWriteRegisterRequest, ReadWriteMultipleRegistersRequest
except ModuleNotFoundError:  # 3.0
    from pymodbus.bit_read_message import ReadCoilsRequest
    from pymodbus.diag_message import ReturnQueryDataRequest
    from pymodbus.file_message import ReadFifoQueueRequest
    from pymodbus.mei_message import ReadDeviceInformationRequest
    from pymodbus.other_message import (GetCommEventCounterRequest, GetCommEventLogRequest, ReadExceptionStatusRequest,
                                        ReportSlaveIdRequest)
    from pymodbus.register_read_message import ReadWriteMultipleRegistersRequest
    from pymodbus.register_write_message import MaskWriteRegisterRequest

logging.getLogger("pymodbus").setLevel(logging.CRITICAL)  # an exception is an answer like another here
_NEW = "no_response_expected" in inspect.signature(ModbusTcpClient.execute).parameters


def connected(port, **options):
    """A client that is connected to 127.0.0.1. The newer one would repeat what is not answered; here that is a failure."""
    client = ModbusTcpClient("127.0.0.1", port=port, **({"retries": 0} if _NEW else {}), **options)
    if not client.connect():
        raise AssertionError(f"no connection to port {port}")
    return client


def execute(client, kind, unit=1, **fields):
    """Sends a request of any kind as it stands, with counts that no server allows, too, and returns the answer."""
    if not _NEW:
        return client.execute(kind(**fields, unit=unit))
    request = kind(**fields, dev_id=unit)
    request.validateCount = lambda *_, **__: None  # else the client would not send what it knows to be wrong
    return client.execute(False, request)
