"""What comes in: MQTT messages and loggers' files, each told as `Reading` or `Rejected`.

`mapping` says where in a message a sensor's numbers stand, `decode` turns any bytes into readings
or named rejections, and `csv_log` reads a logger's file. `mqtt`, which the daemon alone imports,
holds the line to the broker and acknowledges only what has been kept; `backlog` tells a fresh
message from one that waited there. Nothing here stores, decides or raises an alert.
"""

from curewatch.intake.arrivals import Arrived, Delivery, IntakeState
from curewatch.intake.csv_log import Log, read_log
from curewatch.intake.decode import decode
from curewatch.intake.mapping import SensorMapping, TopicTable, mapping_faults

__all__ = [
    "Arrived",
    "Delivery",
    "IntakeState",
    "Log",
    "SensorMapping",
    "TopicTable",
    "decode",
    "mapping_faults",
    "read_log",
]
