# What the general-purpose reader `comtrade` (from the Python package registry) finds in the records named,
# as a JSON list. Values are the bits of their doubles, so that none is lost on the way; a missing one is null.
import json
import math
import struct
import sys

import comtrade


def of(path):
    record = comtrade.Comtrade(ignore_warnings=True, use_double_precision=True)
    record.load(path)
    cfg = record.cfg
    bits = lambda x: None if math.isnan(x) else struct.unpack("<Q", struct.pack("<d", x))[0]
    return {
        "station": record.station_name,
        "device": record.rec_dev_id,
        "revision": record.rev_year,
        "encoding": record.ft,
        "nominal_hz": record.frequency,
        "rates": cfg.sample_rates,
        "start": record.start_timestamp.isoformat(timespec="microseconds"),
        "frames": record.total_samples,
        "channels": [[c.name, c.ph, c.uu, c.pors] for c in cfg.analog_channels],
        "time": list(record.time),
        "values": [[bits(x) for x in column] for column in record.analog],
    }


print(json.dumps([of(path) for path in sys.argv[1:]]))
