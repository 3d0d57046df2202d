"""Small files that several tests read."""

import numpy as np
import xarray as xr

from climwin.batch.stations import StationRecord
from climwin.core.schema import Station


def write_station(folder, name, record):
    table = record[["tmin", "tmax"]].to_dataframe().reset_index()
    table.rename(columns={"time": "date"}).to_csv(
        folder / name, index=False, date_format="%Y-%m-%d"
    )
    return StationRecord(Station(name, name, 46.0, 7.0), folder / name, "C")


def dly(element, days, station="XX000000001", month="200102"):
    """A line as section III of NOAA's readme lays it out: 21 columns, then 31 fields of 8."""
    fields = [f"{value:5d} {flag}7" for value, flag in days]
    fields += ["-9999   "] * (31 - len(days))
    return f"{station}{month}{element}" + "".join(fields)


LATITUDES, LONGITUDES = [46.25, 46.0], [7.0, 7.25, 7.5]
SAID = {"tmin": "minimum", "tmax": "maximum", "tmean": "mean"}


def a_grid(cells, *names, kelvin=True, **renamed):
    """The same as a CF file would hold it: noon, kelvin, latitude from the north down."""
    out = xr.Dataset(
        coords={
            "time": cells[0]["time"].values.astype("datetime64[ns]") + np.timedelta64(12, "h"),
            "lat": ("lat", LATITUDES, {"units": "degrees_north"}),
            "lon": ("lon", LONGITUDES, {"units": "degrees_east"}),
        }
    )
    for name in names or ("tmin", "tmax"):
        values = np.stack([record[name].values for record in cells]).reshape(2, 3, -1)
        out[name] = (("lat", "lon", "time"), values + 273.15 * kelvin)
        out[name].attrs = {
            "units": "K" if kelvin else "degC",
            "standard_name": "air_temperature",
            "cell_methods": f"area: mean time: {SAID[name]}",
        }
    return out.transpose("time", "lat", "lon").rename(renamed)


FORMS = {
    "iso": "time,temperature\n2026-03-31 23:50,5.5\n2026-04-01 00:00,5\n",
    "comment head": "# Invented frame\n\ntime,temperature\n# batch 2\n2026-03-31 23:50,5.5\n"
    "2026-04-01 00:00,5\n",
    "preamble": "Logger no. 5\nNotes,none\n\ntime,temperature\n2026-03-31T23:50:00,5.5\n"
    "2026-04-01T00:00:00,5\n",
    "decimal comma": "Date/Time;Temp °C;Humidity\n2026-03-31 23:50;5,5;80\n"
    "2026-04-01 00:00;5,0;81\n",
    "tabs": "Temp (°C)\tTimestamp\n5.5\t2026-03-31 23:50\n5\t2026-04-01 00:00\n",
    "date apart": "Temperature,Time,Date\n5.5,23:50,2026-03-31\n5,00:00,2026-04-01\n",
    "day first": "time,temperature\n31/03/2026 23:50,5.5\n01/04/2026 00:00,5\n",
    "dots": "Datetime;Temp\n31.03.2026 23:50;5,5\n01.04.2026 00:00;5\n",
    "fahrenheit": "time,temp_f\n2026-03-31 23:50,41.9\n2026-04-01 00:00,41\n",
    "degF": 'time,"Temperature, degF"\n2026-03-31 23:50,41.9\n2026-04-01 00:00,41\n',
    "newest first": "time,temperature\n2026-04-01 00:00,5\n2026-03-31 23:50,5.5\n",
    "blank readings": "time,temperature\n2026-03-31 23:40,\n2026-03-31 23:50,5.5\n"
    "2026-03-31 23:55,--\n2026-04-01 00:00,5\n",
    "latin-1": "Date Time;Temp °C\n2026-03-31 23:50;5,5\n2026-04-01 00:00;5\n".encode("latin-1"),
    "mac": "time,temperature\r2026-03-31 23:50,5.5\r2026-04-01 00:00,5\r",
}
"""One record in many forms of a logger's file."""
