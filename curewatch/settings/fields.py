"""What every table of the configuration has in common, and the kinds of value in them.

The annotations here are evaluated by pydantic, so this module does without postponed ones.
"""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from curewatch.settings.values import (
    host_name,
    json_pointer,
    message_place,
    not_a_switch,
    plain_name,
    zone_name,
)
from curewatch.shop.room_plan import LEAST_TEMP_C, MOST_TEMP_C

Name = Annotated[str, AfterValidator(plain_name)]
Zone = Annotated[str, AfterValidator(zone_name)]
HostName = Annotated[str, AfterValidator(host_name)]
Pointer = Annotated[str, AfterValidator(json_pointer)]
Place = Annotated[str, AfterValidator(message_place)]
Number = Annotated[float, BeforeValidator(not_a_switch), Field(allow_inf_nan=False)]
Port = Annotated[int, BeforeValidator(not_a_switch), Field(ge=1, le=65535)]
Minutes = Annotated[Number, Field(gt=0, le=24 * 60)]
RoomTemp = Annotated[Number, Field(ge=LEAST_TEMP_C, le=MOST_TEMP_C)]


class Table(BaseModel):
    """A table of the configuration: keys that are not known are faults."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)
