"""The tables of the configuration file, and what the parts of the daemon take from them.

What each key means stands in docs/configuration.md; the annotations here are evaluated by
pydantic, so this module does without postponed ones.
"""

from datetime import tzinfo
from pathlib import Path
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PrivateAttr,
    SecretStr,
)
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from curewatch.errors import BadConfig
from curewatch.intake.families import Family, to_subscribe
from curewatch.intake.kernel import SYSFS
from curewatch.intake.mapping import SensorMapping, zone_named
from curewatch.intake.polling import Poll
from curewatch.intake.presence import PresenceMapping
from curewatch.outbound.quiet import QuietHours
from curewatch.science.humid_air import pressure_at_altitude_pa
from curewatch.settings.fields import HostName, Minutes, Name, Number, Port, RoomTemp, Table, Zone
from curewatch.settings.sensor_tables import KindTable, SensorTable
from curewatch.settings.values import (
    broker_host,
    certificate_digest,
    not_a_switch,
    protocol_text,
    quiet_span,
    web_address,
)
from curewatch.shop.alert import AlertKind
from curewatch.shop.reading import IN_THE_AIR, Quantity, Urgency
from curewatch.shop.room import (
    Room,
    Sensor,
)
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.words import Words

POLLED_EVERY_MIN = 1.0
PLAIN_PORT, TLS_PORT = 1883, 8883  # IANA service names mqtt and secure-mqtt


class SiteTable(Table):
    """The shop as a whole."""

    name: Name = "shop"
    timezone: Zone = "UTC"
    units: Literal["metric", "imperial"] = "metric"
    altitude_m: Annotated[Number, Field(ge=-500, le=6000)] = 0.0


class StorageTable(Table):
    """Where what is known is kept."""

    path: Path = Path("/var/lib/curewatch/curewatch.db")


class BrokerTable(Table):
    """The MQTT broker the sensors publish to."""

    host: Annotated[str, AfterValidator(broker_host)] = "localhost"
    tls: bool = False
    port: Port = Field(
        default_factory=lambda given: TLS_PORT if given.get("tls") else PLAIN_PORT,
    )
    ca_file: Path | None = None
    fingerprint: Annotated[str, AfterValidator(certificate_digest)] | None = None
    username: Annotated[str, Field(min_length=1)] | None = None
    password_file: Path | None = None
    protocol: Annotated[Literal["5", "3.1.1"], BeforeValidator(protocol_text)] = "5"
    client_id: Name | None = None


class RoomTable(Table):
    """A room where pieces are sprayed or dry."""

    name: Name
    air: Literal["still", "gentle", "fan"] = "still"
    longest_gap_min: Minutes | None = None
    set_point_c: RoomTemp | None = None
    set_point_cools: bool = False
    set_point_rh_pct: Annotated[Number, Field(ge=1, le=100)] | None = None
    set_point_humidifies: bool = False
    unheated_c: RoomTemp | None = None

    def set_point(self) -> RoomPlan | None:
        """Return what the room is kept at, if it says so: a plan that holds always."""
        temp_c, rh_pct = self.set_point_c, self.set_point_rh_pct
        if temp_c is None and rh_pct is None:
            return None
        return RoomPlan(
            room=self.name,
            start_ms=0,
            temp_c=temp_c,
            rh_frac=None if rh_pct is None else rh_pct / 100,
            why="set-point",
            temp_at_least=temp_c is not None and not self.set_point_cools,
            rh_at_most=rh_pct is not None and not self.set_point_humidifies,
        )


class KernelTable(Table):
    """The kernel's tree of devices, where this machine's own chips are found."""

    sysfs: Path = SYSFS


class FinishesTable(Table):
    """Where the shop's own finish profiles lie."""

    directory: Path | None = None


class NotifyTable(Table):
    """Whom notices go to, and when they may."""

    urls: tuple[SecretStr, ...] = ()
    urls_file: Path | None = None
    quiet_hours: Annotated[str, AfterValidator(quiet_span)] | None = None
    quiet_lets_through: Literal["now", "nothing"] = "now"
    mute: tuple[AlertKind, ...] = ()
    repeat_h: Annotated[Number, Field(ge=0.25, le=24 * 7)] | None = None

    def quiet(self) -> QuietHours | None:
        """Return the quiet hours, if any."""
        return None if self.quiet_hours is None else QuietHours.parse(self.quiet_hours)

    def held_until_ms(self, urgency: Urgency, now_ms: int, *, zone: tzinfo) -> int | None:
        """Return until when a notice of `urgency` waits for the quiet to end [ms], or None."""
        quiet = self.quiet()
        passes = urgency is Urgency.NOW and self.quiet_lets_through == "now"
        return None if quiet is None or passes else quiet.until_ms(now_ms, zone)


class ClockTable(Table):
    """Where 'now' comes from, and how long readings may wait for their commit."""

    source: Literal["system", "readings"] = "system"
    commit_window_s: Annotated[Number, Field(ge=0.05, le=60)] = 5.0


class PageTable(Table):
    """The page for the telephone at the bench."""

    serve: bool = False
    host: Annotated[str, AfterValidator(broker_host)] = "127.0.0.1"
    port: Annotated[int, BeforeValidator(not_a_switch), Field(ge=0, le=65535)] = 8480
    open_reading: bool = False
    metrics: bool = False
    names: tuple[HostName, ...] = ()
    clock: Literal["24", "12"] = "24"


class InfluxTable(Table):
    """A server that readings and alerts are mirrored to; all four keys or none."""

    url: Annotated[str, AfterValidator(web_address)] | None = None
    org: Annotated[str, Field(min_length=1)] | None = None
    bucket: Annotated[str, Field(min_length=1)] | None = None
    token_file: Path | None = None
    ca_file: Path | None = None
    every_s: Annotated[Number, Field(ge=1, le=3600)] = 60.0
    states_every_min: Annotated[int, Field(ge=1, le=1440)] = 15


class Settings(BaseSettings):
    """Everything the shop has configured; `load_settings` makes it.

    Paths are absolute once loaded. Secrets are read when asked for, so a command that needs none
    works for people who may not read them.
    """

    model_config = SettingsConfigDict(
        extra="forbid",
        frozen=True,
        hide_input_in_errors=True,
        env_prefix="CUREWATCH_",
        env_nested_delimiter="__",
    )

    site: SiteTable = SiteTable()
    storage: StorageTable = StorageTable()
    broker: BrokerTable = BrokerTable()
    room: tuple[RoomTable, ...] = ()
    kind: tuple[KindTable, ...] = ()
    sensor: tuple[SensorTable, ...] = ()
    kernel: KernelTable = KernelTable()
    finishes: FinishesTable = FinishesTable()
    notify: NotifyTable = NotifyTable()
    clock: ClockTable = ClockTable()
    page: PageTable = PageTable()
    influx: InfluxTable = InfluxTable()

    _source: Path | None = PrivateAttr(default=None)
    _warnings: tuple[str, ...] = PrivateAttr(default=())

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],  # noqa: ARG003 - pydantic-settings fixes the signature
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,  # noqa: ARG003 - same
        dotenv_settings: PydanticBaseSettingsSource,  # noqa: ARG003 - same
        file_secret_settings: PydanticBaseSettingsSource,  # noqa: ARG003 - same
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Take what `load` hands over, which has laid the environment over the file already."""
        return (init_settings,)

    @property
    def source(self) -> Path | None:
        """The file this was read from; None when there was none."""
        return self._source

    @property
    def warnings(self) -> tuple[str, ...]:
        """What can be used but should be looked at."""
        return self._warnings

    @property
    def zone(self) -> ZoneInfo:
        """The shop's time zone."""
        return zone_named(self.site.timezone)

    def words(self) -> Words:
        """Return how things are said to people in this shop."""
        return Words(zone=self.zone, imperial=self.site.units == "imperial")

    def client_id(self) -> str:
        """Return the name the daemon has at the broker; the session it keeps hangs on it."""
        return self.broker.client_id or f"curewatch-{self.site.name}"

    def rooms(self) -> dict[str, Room]:
        """Return the rooms by name, with the air pressure of the shop's altitude."""
        pressure_pa = float(pressure_at_altitude_pa(self.site.altitude_m))
        return {
            table.name: Room(
                name=table.name,
                air=table.air,
                longest_gap_s=None if table.longest_gap_min is None else table.longest_gap_min * 60,
                pressure_pa=pressure_pa,
            )
            for table in self.room
        }

    def set_points(self) -> dict[str, tuple[RoomPlan, ...]]:
        """Return what each room is kept at, by room; none for those that say nothing."""
        said = {table.name: table.set_point() for table in self.room}
        return {room: (plan,) for room, plan in said.items() if plan is not None}

    def unheated_c(self, room: str) -> float | None:
        """Return what a room drifts to with its heating off [degC], if it says so."""
        return next((table.unheated_c for table in self.room if table.name == room), None)

    def sensors(self) -> tuple[Sensor, ...]:
        """Return the sensors, each once; what one of its tables leaves out another may give."""
        given: dict[str, dict[str, object]] = {}
        for table in self.sensor:
            known = given.setdefault(table.id, {})
            for key in table.model_fields_set & set(SHARED_KEYS):
                known[key] = getattr(table, key)
        told: dict[str, set[Quantity]] = {}
        for table in self.sensor:
            told.setdefault(table.id, set()).update(table.quantities())
        measures = {name: frozenset(which & set(IN_THE_AIR)) for name, which in told.items()}
        for table in self.sensor:
            if table.kernel is not None:
                given[table.id].setdefault("report_every_min", POLLED_EVERY_MIN)
        return tuple(
            _sensor(
                SensorTable.model_validate({"id": name, "topic": "-", **known}),
                air=bool(measures[name]) or not told[name],
                measures=measures[name] or frozenset(IN_THE_AIR),
            )
            for name, known in given.items()
        )

    def mappings(self) -> tuple[SensorMapping, ...]:
        """Return how each topic's messages are read, in the order of the file."""
        zone = self.site.timezone
        return tuple(table.mapping(zone) for table in self.sensor if table.topic is not None)

    def families(self) -> tuple[Family, ...]:
        """Return where sensors of each kind speak, so that new ones are noticed."""
        return tuple(table.family() for table in self.kind)

    def placed(self) -> tuple[tuple[str, str], ...]:
        """Return kind and name of each sensor that has a place, by its table or by its topic."""
        named = [
            (table.kind, table.heard_as or table.id)
            for table in self.sensor
            if table.kind is not None
        ]
        by_topic = [
            (family.kind, name)
            for family in self.families()
            for table in self.sensor
            if table.topic is not None
            for name in family.heard_in(table.topic, b"")
        ]
        return tuple(dict.fromkeys([*named, *by_topic]))

    def asked_topics(self) -> tuple[str, ...]:
        """Return the topic filters that the daemon asks the broker for."""
        topics = [table.topic for table in self.sensor if table.topic is not None]
        presences = [presence.topic for presence in self.presences()]
        return to_subscribe([*topics, *presences], self.families())

    def presences(self) -> tuple[PresenceMapping, ...]:
        """Return on which topics sensors, or brokers for them, say that they are gone."""
        return tuple(
            PresenceMapping(table.id, table.presence, table.presence_at, table.presence_gone)
            for table in self.sensor
            if table.presence is not None
        )

    def polls(self) -> tuple[Poll, ...]:
        """Return the chips at this machine that are asked, in the order of the file."""
        every_s = {sensor.id: sensor.report_every_s for sensor in self.sensors()}
        return tuple(
            Poll(table.id, table.kernel, table.quantities(), every_s[table.id] or 0.0)
            for table in self.sensor
            if table.kernel is not None
        )

    def broker_password(self) -> str | None:
        """Return the broker's password, or None when none is configured.

        Raises
        ------
        BadConfig
            When its file cannot be read or is empty.
        """
        path = self.broker.password_file
        if path is None:
            return None
        password = self._secret(path, "broker.password_file").rstrip("\r\n")
        if not password:
            raise BadConfig(
                str(self.source or "the configuration"),
                [f"broker.password_file: {path} is empty; write the password on its first line"],
            )
        return password

    def influx_token(self) -> str | None:
        """Return the mirror's token, or None when no mirror is configured.

        Raises
        ------
        BadConfig
            When its file cannot be read, is empty or holds more than one line.
        """
        path = self.influx.token_file
        if path is None:
            return None
        token = self._secret(path, "influx.token_file").strip()
        if not token or not token.isprintable() or not token.isascii():
            raise BadConfig(
                str(self.source or "the configuration"),
                [f"influx.token_file: {path} must hold the token alone, on one line"],
            )
        return token

    def notify_urls(self) -> tuple[str, ...]:
        """Return the addresses notices go to, those of `urls_file` last.

        Raises
        ------
        BadConfig
            When that file cannot be read.
        """
        urls = [secret.get_secret_value() for secret in self.notify.urls]
        if self.notify.urls_file is not None:
            lines = self._secret(self.notify.urls_file, "notify.urls_file").splitlines()
            urls += [line.strip() for line in lines if line.strip() and line.strip()[0] != "#"]
        return tuple(dict.fromkeys(urls))

    def _secret(self, path: Path, key: str) -> str:
        try:
            return path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
            raise BadConfig(
                str(self.source or "the configuration"),
                [f"{key}: {path} cannot be read: {why}; see that this user may read it"],
            ) from None


SHARED_KEYS = (
    *("room", "report_every_min", "temperature_bias_k", "humidity_bias_pct"),
    *("temperature_drift_k", "humidity_drift_pct", "calibration_every_days"),
)


def _sensor(table: SensorTable, *, air: bool, measures: frozenset[Quantity]) -> Sensor:
    every_min = table.report_every_min
    return Sensor(
        id=table.id,
        room=table.room,
        report_every_s=None if every_min is None else every_min * 60,
        temp_bias_k=table.temperature_bias_k,
        rh_bias_frac=table.humidity_bias_pct / 100,
        air=air,
        temp_drift_k=table.temperature_drift_k,
        rh_drift_frac=table.humidity_drift_pct / 100,
        calibration_every_days=table.calibration_every_days,
        measures=measures,
    )
