"""The one list of keys that a procedure or a technique's window may set: unit and meaning, no numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ParameterKey:
    """``unit`` gives the dimension a value must have; ``yes/no`` and ``word`` are not numbers."""

    key: str
    unit: str
    meaning: str


_KEYS = (
    # light
    ("uv_min", "uW/cm2", "least UV-A irradiance of a lamp at the stated distance"),
    ("uv_distance", "in", "distance from the filter face at which lamps are read"),
    ("uv_distance_tolerance", "in", "how far from that distance a reading may be taken"),
    ("uv_at_part_min", "uW/cm2", "least UV-A irradiance at the part in the zone worst lit"),
    ("uv_at_part_max", "uW/cm2", "most UV-A irradiance at the part: above it penetrant fades and metal glares"),
    ("uv_plausible_min", "uW/cm2", "below this a typed reading is more likely a wrong unit"),
    ("uv_plausible_max", "uW/cm2", "above this a typed reading is more likely a wrong unit"),
    ("ambient_max", "fc", "most visible light in the booth"),
    ("ambient_removal_max", "lx", "most visible light at the removal station"),
    ("uv_removal_min", "uW/cm2", "least UV-A at the removal station"),
    ("lamp_warm_up", "min", "lamp on before reading and view"),
    ("lamp_integrity_interval", "d", "between integrity checks of a lamp"),
    ("lamp_gap_max", "h", "longest time between the two readings that bracket a view"),
    ("accept_needs_bracket", "yes/no", "acceptance waits for the reading after the view"),
    ("trend_tolerance", "%", "how far a reading may lie from its lamp's own trend"),
    ("trend_readings", "pcs", "readings that a trend needs"),
    ("same_value_limit", "pcs", "this many identical readings in a row are asked about"),
    ("white_light_min", "fc", "least white light where an indication is evaluated under it"),
    (
        "guard_band",
        "yes/no",
        "limits of what is read of light (lamps, booth, part, white light, removal station), of water and of the "
        "dryer move inwards by the uncertainty that the meter's certificate gives",
    ),
    # general
    ("dark_adapt_min", "s", "in the dark before a view"),
    ("view_stretch_max", "min", "viewing without a break"),
    ("view_break_min", "min", "a gap that counts as a break"),
    ("view_pace_min", "%", "least share of the technique's expected viewing time"),
    ("typed_late_after", "min", "a fact typed later than this after it happened needs a reason"),
    ("shop_day_start", "word", "local time from which a reading counts for the day, HH:MM"),
    ("shop_day_end", "word", "local time until which a reading counts for the day, HH:MM"),
    ("warn_expiry", "d", "warn this long before a certificate or vision exam ends"),
    ("photo_time_tolerance", "min", "how far outside the inspection a photograph's corrected time may lie"),
    ("second_look_on_clean_percent", "%", "share of clean class 1 parts drawn for a blind second look"),
    ("persons_min_class_1", "pcs", "least number of persons who processed, viewed or decided a class 1 part"),
    ("persons_min_class_2", "pcs", "the same for class 2"),
    ("persons_min_class_3", "pcs", "the same for class 3"),
    # magnetic particle
    ("bath_hard_min", "mL", "least particle volume, contamination subtracted"),
    ("bath_hard_max", "mL", "most particle volume, contamination subtracted"),
    ("bath_working_min", "mL", "lower end of the shop's working range"),
    ("bath_working_max", "mL", "upper end of the shop's working range"),
    ("settling_time", "min", "settling time of the bath's vehicle"),
    ("bath_valid", "h", "how long a bath result holds"),
    ("agitation_min", "min", "agitation before a sample when the pump was off long"),
    ("agitation_off", "h", "the pump was off long: this long or more"),
    ("bath_contamination_interval", "d", "between contamination checks of the bath"),
    ("vehicle_interval", "d", "between checks of vehicle fluorescence and viscosity"),
    ("calibration_items_mt", "word", "calibration items of the bench that must be in date"),
    ("ring_holes_min", "holes", "holes that the tool-steel ring must show"),
    ("amps_tolerance", "%", "current of every pulse about the technique's"),
    ("pulses_min", "pcs", "pulses of a shot"),
    ("pulse_min", "s", "shortest pulse"),
    ("pulse_max", "s", "longest pulse"),
    ("residual_max", "G", "residual field at every listed point after the last demagnetisation"),
    ("cross_field_min", "deg", "least angle between two fields that cover a zone"),
    ("coil_ld_min", "pcs", "least length over effective diameter in a coil, extensions and stacked pieces counted"),
    ("tangential_min", "G", "least tangential field where a technique has it shown"),
    ("tangential_max", "G", "most tangential field where a technique has it shown"),
    ("bath_age_max", "d", "longest use of one bath"),
    ("last_direction", "word", "direction of the last field before demagnetisation"),
    # penetrant
    ("wetting_temperature_min", "degF", "part temperature at wetting"),
    ("wetting_temperature_max", "degF", "part temperature at wetting"),
    ("dwell_base", "min", "dwell before temperature and service-induced corrections"),
    ("dwell_max", "min", "longest time wet"),
    ("dwell_service_induced", "yes/no", "the parts are inspected for service-induced flaws"),
    ("dwell_band_edge", "word", "middle or longer: which band a temperature on its edge belongs to"),
    ("immersed_share_max", "%", "longest share of the dwell in the penetrant tank"),
    ("prewash_max", "s", "longest prewash"),
    ("remover_min", "s", "shortest remover contact"),
    ("remover_max", "s", "longest remover contact"),
    ("rinse_max", "s", "longest rinse after remover"),
    ("remover_tolerance", "%", "remover concentration about nominal, absolute"),
    ("remover_concentration_max", "%", "most remover concentration"),
    ("remover_interval", "d", "between concentration checks of the remover"),
    ("wash_per_part_max", "s", "longest wash for each part of the basket"),
    ("water_temperature_min", "degF", "wash water"),
    ("water_temperature_max", "degF", "wash water"),
    ("water_pressure_max", "psi", "wash water"),
    ("nozzle_distance_min", "in", "wash nozzle to part"),
    ("air_pressure_max", "psi", "air, where the wash uses it"),
    ("wash_to_dryer_max", "min", "from the end of the wash into the dryer"),
    ("dryer_temperature_max", "degF", "dryer"),
    ("dryer_time_max", "min", "time in the dryer"),
    ("dryer_to_developer_max", "min", "from the dryer to the developer"),
    ("develop_min", "min", "shortest developing time"),
    ("develop_max", "min", "longest developing time at the end of the view"),
    ("redevelop_min", "min", "local redeveloping after a wipe"),
    ("wipes_max", "pcs", "wipes of one indication"),
    ("rewets_max", "pcs", "re-wettings of one basket"),
    ("wet_total_max", "min", "since the first wetting of all"),
    ("attempts_max", "pcs", "full processes of one part"),
    ("specks_max", "pcs", "fluorescent specks of the developer in a 4 in circle"),
    ("water_content_interval", "d", "between checks of the penetrant's water content"),
    ("water_content_max", "%", "water content of the penetrant"),
    ("brightness_interval", "d", "between brightness checks"),
    ("brightness_min", "%", "penetrant brightness against its reference"),
    ("removability_interval", "d", "between removability and sensitivity comparisons"),
    # indications
    ("linear_ratio", "pcs", "an indication is linear from this ratio of length to width"),
    ("group_count", "pcs", "rounded marks in line that count as one linear indication"),
    ("group_gap", "in", "largest gap between neighbours of such a row"),
    ("group_straightness", "in", "how far a centre may lie beside the row's line"),
    ("size_agreement", "in", "second look: sizes agree within this"),
    ("size_agreement_share", "%", "second look: or within this share of the larger"),
    ("same_place_distance", "in", "an earlier indication this near is the same place"),
    ("same_place_angle", "deg", "an earlier indication this near in angle is the same place"),
    ("alert_count", "pcs", "crack-type decisions in one zone of a part number that raise an alert"),
    ("alert_window", "d", "within this time"),
    ("lunch_margin", "min", "margin kept when a latest start is turned into 'be back by'"),
    # process checks: days are whole local days between a check and a use, 0 d is "on each day of use, before it"
    ("lamp_reading_interval", "d", "between UV-A readings of a lamp that is used"),
    ("ambient_interval", "d", "between readings of the visible light of a booth that is used"),
    ("system_check_interval", "d", "between system performance checks of a bench that is used"),
    ("bench_calibration_interval", "d", "between calibrations of the bench's calibration items"),
    ("light_meter_interval", "d", "between calibrations of radiometer and light meter"),
    ("gaussmeter_interval", "d", "between calibrations of the gaussmeter or field indicator"),
    ("panel_interval", "d", "between known-defect panels of a penetrant line that is used"),
    ("tank_interval", "d", "between looks at a penetrant tank that is used"),
    ("developer_interval", "d", "between looks at a developer that is used"),
    ("gauge_interval", "d", "between readings of dryer, water temperature and water pressure"),
    ("gauge_calibration_interval", "d", "between calibrations of thermometers and gauges of the penetrant line"),
    ("booth_interval", "d", "between checks that a booth is clean"),
    ("clock_interval", "d", "between comparisons of the clocks of camera and station"),
    ("restore_interval", "d", "between restore tests of the record book's copies"),
    # serious findings, keeping of records
    ("serious_report_within", "h", "from first seeing a serious finding to its report"),
    (
        "judgement_within",
        "h",
        "from first seeing a relevant crack-type indication to the judgement whether it is serious",
    ),
    ("retention_years", "pcs", "calendar years for which records are kept after the release to service"),
)

# without a value nothing is asked: a procedure says yes to them, or nothing
OPTIONAL = frozenset({"guard_band", "persons_min_class_1", "persons_min_class_2", "persons_min_class_3"})

KEYS: dict[str, ParameterKey] = {key: ParameterKey(key, unit, meaning) for key, unit, meaning in _KEYS}
