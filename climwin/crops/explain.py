"""Explain a crop in plain sentences: what it tolerates and needs, with sources."""

from __future__ import annotations

from climwin.core.formatting import (
    degree_days,
    difference_as_given,
    number,
    percent,
    plain,
    temperature,
)
from climwin.core.schema import Units, check_choice
from climwin.core.wording import capitalized, listed
from climwin.crops.bands import bearable_band, comfortable_band
from climwin.crops.catalogue import crop as crop_named
from climwin.crops.model import (
    CHILL_BELOW_C,
    COLD_NEED_RANGE_C,
    COMMON_PRACTICE,
    DAYS_TO_HEAL,
    DAYS_TO_SPROUT_AGAIN,
    FROM_MEMORY,
    LEAST_DAY_H,
    LOST_WITH_SHOOTS,
    RIPENING_BASE_C,
    WARM_AFTERNOON_C,
    Bloom,
    Cold,
    ColdBolting,
    Crop,
    Germination,
    Heat,
    Maturity,
    Perennial,
    Setting,
    Sprouting,
    Stage,
    Winter,
)

CONFIDENCE = {
    "solid": "Several published sources agree on its numbers.",
    "fair": "Its numbers rest on few published sources.",
    "thin": "Its numbers rest on one source or on memory: take them as a first guess.",
}
STARTS = {
    "seed": "It is sown where it grows.",
    "seed or plants": "It is sown where it grows, or raised and set out.",
    "plants": "It is raised under cover, or bought, and set out as a plant.",
    "tubers": "It is planted as tubers.",
    "cloves": "It is planted as cloves.",
    "sets": "It is planted as sets.",
    "slips": "It is planted as slips.",
    "roots": "It is planted as roots.",
    "perennial": "It stands for years.",
}
_NEARLY_SAME_C = 0.05
_SOURCES: dict[Units, str] = {
    "C": "Sources (in °C).",
    "F": "Sources (as published, in °C; 1.8 times that plus 32 is °F).",
}

# Sources of rules for all crops, which are not in crop files; see `climwin.crops.model`.
LEAST_DAY_SOURCE = (
    "the ten-hour rule of winter growers: Coleman, The Winter Harvest Handbook, 2009 (from memory)"
)
SPROUTING_AGAIN_SOURCE = (
    "Iowa State University Extension, on potatoes (10 to 14 days); what it costs: common practice"
)


def explain_crop(crop: Crop | str, units: Units = "C") -> str:
    """Explain what a crop tolerates, how long it takes and what makes it fail.

    Parameters
    ----------
    crop : Crop or str
        A crop, or the name of one in the catalogue.
    units : {"C", "F"}
        Units of the temperatures.

    Returns
    -------
    str
        Paragraphs with headings. Numbers in brackets refer to the sources at the end, which are
        quoted as published, in degC.

    Raises
    ------
    ValueError
        If there is no crop of that name, or the units are neither C nor F.

    Examples
    --------
    >>> import climwin as cw
    >>> print(cw.explain_crop("pea", units="F").splitlines()[0])
    Pea (Pisum sativum): a cool-season crop of the legume family
    """
    check_choice("units", units, ("C", "F"))
    plant = crop_named(crop) if isinstance(crop, str) else crop
    return _Text(plant, units).whole()


class _Text:
    """Sentences about one crop; sources are numbered when first cited."""

    def __init__(self, crop: Crop, units: Units) -> None:
        self.crop, self.units = crop, units
        self.sources: list[str] = []
        self.stage_sources: dict[str, str] = {}

    def whole(self) -> str:
        crop = self.crop
        family = crop.family if crop.family.endswith("family") else f"{crop.family} family"
        kind = f"a {crop.season}-season crop of the {family}"
        title = f"{capitalized(crop.name)} ({crop.botanical}): {kind}"
        parts = [
            ("Start", self.start()),
            ("Temperature", self.temperature()),
            ("Soil", self.soil()),
            ("Time", self.time()),
            ("Winter", self.winter()),
            ("Spring", self.spring()),
            ("Cold", self.cold()),
            ("Heat", self.heat()),
            ("Fruit set", self.fruit_set()),
            ("Bolting", self.bolting()),
            ("Day length", self.day_length()),
            ("Harvest", self.harvest()),
            ("Caution", list(crop.cautions)),
        ]
        paragraphs = [
            f"{heading}. {' '.join(sentences)}" for heading, sentences in parts if sentences
        ]
        cited = [f"[{number}] {source}" for number, source in enumerate(self.sources, 1)]
        return "\n\n".join([title, *paragraphs, "\n".join([_SOURCES[self.units], *cited])])

    # --- numbers in words

    def degrees(self, celsius: float) -> str:
        """Temperature in the chosen units: whole degF, or degC with up to one decimal."""
        return temperature(celsius, self.units, 0 if self.units == "F" else 1)

    def difference(self, celsius: float) -> str:
        return difference_as_given(celsius, self.units)

    def span(self, low_c: float, high_c: float) -> str:
        low, high = self.degrees(low_c), self.degrees(high_c)
        return f"{low.split(' ')[0]} to {high}"

    def cite(self, source: str) -> str:
        """Number of a source in brackets; "as for seedling" is the seedling's."""
        meant = self.stage_sources.get(source.removeprefix("as for "), source)
        if meant not in self.sources:
            self.sources.append(meant)
        return f"[{self.sources.index(meant) + 1}]"

    # --- paragraphs

    def start(self) -> list[str]:
        sentences = [STARTS[self.crop.propagation], CONFIDENCE[self.crop.confidence]]
        weeks = self.crop.weeks_under_cover
        if weeks is not None:
            span, source = _number_span(weeks.fewest, weeks.most), self.cite(weeks.source)
            sentences.insert(1, f"Raised plants spend {span} weeks under cover {source}.")
        return sentences

    def temperature(self) -> list[str]:
        response = self.crop.response
        base, end = self.degrees(response.base_c), self.degrees(response.maximum_c)
        fastest = self.span(response.optimum_from_c, response.optimum_to_c)
        comfortable, bearable = comfortable_band(self.crop), bearable_band(self.crop)
        return [
            f"It grows above {base}, at its fastest from {fastest}, and stops at {end} "
            f"{self.cite(response.source)}.",
            f"Days with a mean of {self.span(comfortable.low_c, comfortable.high_c)} are "
            f"comfortable, those of {self.span(bearable.low_c, bearable.high_c)} bearable.",
        ]

    def soil(self) -> list[str]:
        germination = self.crop.germination
        if germination is None:
            return []
        sentences = [self.soil_range(germination), *self.days_to_emerge(germination)]
        if self.crop.rots_in_cold_soil:
            least = self.degrees(germination.minimum_c)
            sentences.append(
                f"Cut tubers rot where the soil of their first {DAYS_TO_HEAL} days averages less "
                f"than {least} {self.cite(germination.source)}."
            )
        if self.crop.waits_in_frozen_soil:
            waits = "Planted from autumn on, it waits in the soil for spring"
            sentences.append(f"{waits} {self.cite(COMMON_PRACTICE)}.")
        return sentences

    def soil_range(self, germination: Germination) -> str:
        from_seed = self.crop.propagation in ("seed", "seed or plants", "plants", "perennial")
        kind = "Its seed comes up" if from_seed else "It comes up"
        return (
            f"{kind} in soil of {self.span(germination.minimum_c, germination.maximum_c)}, best at "
            f"{self.span(germination.optimum_low_c, germination.optimum_high_c)} "
            f"{self.cite(germination.source)}."
        )

    def days_to_emerge(self, germination: Germination) -> list[str]:
        if not germination.days_at_c:
            return []
        sentences = [
            f"{plain(days)} days at {self.degrees(soil)}" for soil, days in germination.days_at_c
        ]
        return [f"It takes {listed(sentences)} {self.cite(germination.days_source)}."]

    def time(self) -> list[str]:
        maturity = self.crop.maturity
        if maturity is None:
            return []
        sentences = [self.days_to_harvest(maturity), *self.heat_to_harvest(maturity)]
        short = f"Outdoors it stands still in days of less than {plain(LEAST_DAY_H)} hours"
        return [*sentences, f"{short} {self.cite(LEAST_DAY_SOURCE)}."]

    def days_to_harvest(self, maturity: Maturity) -> str:
        begin = "planting" if self.crop.propagation not in ("seed", "seed or plants") else "sowing"
        begin = "setting out" if maturity.counted_from == "setting out" else begin
        days = f"{plain(maturity.early)}, {plain(maturity.main)} and {plain(maturity.late)} days"
        return (
            f"Early, main and late varieties take about {days} from {begin} to the first harvest "
            f"{self.cite(maturity.source)}; cool weather makes them slower, warm weather faster."
        )

    def heat_to_harvest(self, maturity: Maturity) -> list[str]:
        if maturity.heat_sums is None:
            return []
        sums = [f"{self.heat_sum(each)}" for each in maturity.heat_sums]
        base = self.degrees(self.crop.response.base_c)
        return [
            f"The model counts their heat above {base}: {listed(sums)} degree-days "
            f"{self.cite(maturity.heat_source)}."
        ]

    def heat_sum(self, celsius_days: float) -> str:
        return degree_days(celsius_days, self.units)

    def winter(self) -> list[str]:
        sentences = []
        if self.crop.winter is not None:
            sentences += self.overwintering(self.crop.winter)
        if self.crop.perennial is not None:
            sentences += self.hardiness(self.crop.perennial)
        return sentences

    def overwintering(self, winter: Winter) -> list[str]:
        if winter.below_ground:
            rooted = " once its roots are made" if self.crop.propagation == "seed" else ""
            sentences = [
                f"Under soil, mulch or snow it lives through {self.degrees(winter.hardy_to_c)} "
                f"{self.cite(winter.source)}; the temperature of the air alone does not kill it"
                f"{rooted}."
            ]
        else:
            sentences = [
                f"Hardened by cold weather it dies at about {self.degrees(winter.hardy_to_c)} "
                f"{self.cite(winter.source)}."
            ]
        if winter.cold_days is not None:
            smaller = f"with fewer the crop is about {percent(winter.smaller_crop)} of a full one"
            cool = self.span(*COLD_NEED_RANGE_C)
            sentences.append(
                f"It needs the hours of {winter.cold_days} days at {cool}; {smaller} "
                f"{self.cite(winter.cold_source)}."
            )
        return sentences + self.planted_too_early_or_late(winter)

    def planted_too_early_or_late(self, winter: Winter) -> list[str]:
        sentences = []
        if winter.most_heat_before is not None:
            sentences.append(
                "Planted so early that it has had more than "
                f"{self.heat_sum(winter.most_heat_before)} degree-days by the coldest time of the "
                f"year, it is too far on for winter {self.cite(winter.cold_source)}."
            )
        if winter.least_root_heat is not None:
            sentences.append(
                f"Planted so late that the soil gives it less than "
                f"{self.heat_sum(winter.least_root_heat)} degree-days above {self.degrees(0)} by "
                "then, it has no roots, and dies where the soil freezes "
                f"{self.cite(winter.cold_source)}."
            )
        return sentences

    def hardiness(self, perennial: Perennial) -> list[str]:
        hardy, source = self.degrees(perennial.hardy_to_c), self.cite(perennial.hardy_source)
        if perennial.crown_below_ground:
            return [f"Its crown lives to {hardy} under soil, straw or snow {source}."]
        sentences = [f"Winter kills it at {hardy} {source}."]
        if perennial.buds_hardy_to_c is not None:
            buds = self.degrees(perennial.buds_hardy_to_c)
            sentences = [
                f"Winter kills its flower buds at {buds}, and the plant at {hardy} {source}."
            ]
        return sentences

    def spring(self) -> list[str]:
        perennial = self.crop.perennial
        if perennial is None:
            return []
        if perennial.bloom is not None:
            return self.bloom(perennial.bloom)
        assert perennial.sprouting is not None
        return self.sprouting(perennial.sprouting)

    def bloom(self, bloom: Bloom) -> list[str]:
        nights = [
            f"{stage.name} {self.degrees(stage.tenth_killed_c)} and "
            f"{self.degrees(stage.most_killed_c)}"
            for stage in bloom.buds
        ]
        sentences = [
            f"Its rest ends after about {number(bloom.chill_units)} chill units, and it blooms "
            f"after {self.heat_sum(bloom.heat_to_bloom)} growing degree hours more; the first "
            f"fruit is ripe {plain(bloom.days_to_harvest)} days later {self.cite(bloom.source)}."
        ]
        least = bloom.least_chill_units
        if least is not None:
            fewer = f"With {plain(least)} or more" if least else "Without any"
            sentences.append(f"{fewer} it still blooms, but later.")
        if bloom.low_chill_units is not None:
            sentences.append(
                f"Where nine winters in ten bring less, the model takes a kind that needs no more "
                f"than they bring, down to {plain(bloom.low_chill_units)} units "
                f"{self.cite(bloom.low_chill_source)}."
            )
        if bloom.flowering_days:
            sentences.append(
                f"Its flowers open over about {bloom.flowering_days} days, so that a frost takes "
                f"some of them {self.cite(bloom.flowering_source)}."
            )
        if bloom.heat_to_ripen is not None:
            heat, base = self.heat_sum(bloom.heat_to_ripen), self.degrees(RIPENING_BASE_C)
            sentences.append(
                f"It is not ripe before the year has brought {heat} degree-days above {base} "
                f"{self.cite(bloom.ripening_source)}."
            )
        return [
            *sentences,
            f"Nights that kill a tenth of the buds, and nine tenths: {'; '.join(nights)} "
            f"{self.cite(bloom.buds_source)}.",
        ]

    def sprouting(self, sprouting: Sprouting) -> list[str]:
        where = "soil at 20 cm" if sprouting.in_soil else "air"
        spoils = self.degrees(sprouting.cut_killed_at_c)
        sentences = [
            f"It wakes when the {where} is above {self.degrees(sprouting.base_c)}, is first cut "
            f"{self.heat_sum(sprouting.heat_to_first_cut)} degree-days later, and then for about "
            f"{sprouting.harvest_days} days {self.cite(sprouting.source)}.",
            f"A night of {spoils} spoils what is up; it grows again.",
        ]
        if sprouting.chill_days:
            cold = self.degrees(CHILL_BELOW_C)
            sentences.append(
                f"It needs {sprouting.chill_days} winter days with a mean below {cold} "
                f"{self.cite(sprouting.source)}."
            )
        return sentences

    def cold(self) -> list[str]:
        crop = self.crop
        sentences = [] if crop.is_perennial else self.killing_nights()
        if crop.hardens_by_c > 0:
            gained = self.difference(crop.hardens_by_c)
            sentences.append(
                f"Two weeks of cold weather harden it by up to {gained} "
                f"{self.cite(crop.hardening_source)}."
            )
        if crop.sprouts_again:
            sentences.append(
                f"Shoots that freeze in spring come up again about {DAYS_TO_SPROUT_AGAIN} days "
                f"later, and each time {percent(LOST_WITH_SHOOTS)} of the crop is lost "
                f"{self.cite(SPROUTING_AGAIN_SOURCE)}."
            )
        if crop.flowers_again:
            sentences.append(f"It flowers again after a frost {self.cite(COMMON_PRACTICE)}.")
        if crop.chilling is not None:
            chilling = crop.chilling
            sentences.append(
                f"In its first {chilling.first_days} days, {chilling.days} days in a row with a "
                f"mean below {self.degrees(chilling.mean_below_c)} stop it for good, without any "
                f"frost {self.cite(chilling.source)}."
            )
        return sentences

    def killing_nights(self) -> list[str]:
        """One sentence for successive stages with the same limits."""
        groups: list[tuple[list[str], Cold]] = []
        for stage in self.crop.stages:
            self.stage_sources[stage.name] = stage.cold.source
            if groups and _same(groups[-1][1], stage.cold):
                groups[-1][0].append(stage.name)
            else:
                groups.append(([stage.name], stage.cold))
        sentences = [self.killing_night(names, cold) for names, cold in groups]
        if any(_does_harm_first(cold) for _, cold in groups):
            sentences.append(
                "A night between the two takes part of the harvest: more where it freezes what "
                "is harvested than where it freezes leaves, which grow again."
            )
        return sentences

    def killing_night(self, names: list[str], cold: Cold) -> str:
        stages = capitalized(listed(names))
        source, killed = self.cite(cold.source), self.degrees(cold.killed_at_c)
        if not _does_harm_first(cold):
            return f"{stages}: a night of {killed} kills {source}."
        damaged = self.degrees(cold.damaged_at_c)
        return f"{stages}: a night of {damaged} does harm, {killed} kills {source}."

    def heat(self) -> list[str]:
        return [self.hot_stage(stage, stage.heat) for stage in self.crop.stages if stage.heat]

    def hot_stage(self, stage: Stage, heat: Heat) -> str:
        kinds = (
            ("afternoons", heat.maximum_from_c, heat.maximum_fails_c),
            ("nights", heat.minimum_from_c, heat.minimum_fails_c),
            ("whole days", heat.mean_from_c, heat.mean_fails_c),
        )
        shrinks, fails = [], []
        for kind, first, last in kinds:
            if first is not None:
                shrinks.append(f"{kind} average more than {self.degrees(first)}")
            if last is not None:
                fails.append(f"{kind} average more than {self.degrees(last)}")
        # If both can fail it, cool nights offset hot days: the model averages the two limits.
        joint = heat.maximum_fails_c is not None and heat.minimum_fails_c is not None
        word = " and " if joint else " or "
        text = f"{capitalized(stage.name)}: the harvest shrinks when {word.join(shrinks)}"
        if fails:
            text += f", and is lost when {word.join(fails)}"
        if joint:
            text += "; cooler nights make up for hotter afternoons"
        return f"{text} {self.cite(heat.source)}."

    def fruit_set(self) -> list[str]:
        rules = [stage.setting for stage in self.crop.stages if stage.setting is not None]
        return [self.set_days(rule) for rule in rules]

    def set_days(self, rule: Setting) -> str:
        nights = self.span(rule.night_low_c, rule.night_high_c)
        afternoons = self.span(rule.day_low_c, rule.day_high_c)
        return (
            f"It needs {rule.days} days with nights of {nights} and afternoons of {afternoons} to "
            f"set its fruit {self.cite(rule.source)}; while they do not come, the crop is only "
            "later."
        )

    def bolting(self) -> list[str]:
        crop, sentences = self.crop, []
        if crop.cold_bolting is not None:
            sentences.append(self.cold_bolting(crop.cold_bolting))
            sentences.append(
                f"Days on which the afternoon is {self.degrees(WARM_AFTERNOON_C)} or warmer do not "
                f"count {self.cite(FROM_MEMORY)}."
            )
        if crop.vernalization is not None:
            cold = crop.vernalization
            sentences.append(
                f"Once it has grown, long cold makes it run to flower in days of "
                f"{plain(cold.day_length_h)} hours; {self.degrees(cold.optimum_c)} does most, and "
                f"{self.degrees(cold.maximum_c)} nothing {self.cite(cold.source)}."
            )
        if crop.long_day_bolting is not None:
            long = crop.long_day_bolting
            which = f"last longer than {plain(long.day_length_h)} hours"
            if long.mean_above_c > 0:
                which += f" and are warmer than {self.degrees(long.mean_above_c)}"
            sentences.append(
                f"{long.days} days that {which} make it run to flower {self.cite(long.source)}."
            )
        return sentences

    def cold_bolting(self, rule: ColdBolting) -> str:
        cold = f"{rule.days} days with a mean below {self.degrees(rule.mean_below_c)}"
        if rule.within_days is not None:
            cold += f" among its first {rule.within_days}"
        else:
            cold += " once it has grown" if rule.from_share > 0 else " at any age"
        if rule.day_length_h is not None:
            cold += f", with days of {plain(rule.day_length_h)} hours after them,"
        return f"{cold} make it run to flower {self.cite(rule.source)}."

    def day_length(self) -> list[str]:
        crop, sentences = self.crop, []
        if crop.bulbing is not None:
            bulbing = crop.bulbing
            hours = (bulbing.short_day_h, bulbing.intermediate_h, bulbing.long_day_h)
            need = f"{plain(hours[0])} hours"
            if len(set(hours)) > 1:
                need = (
                    f"{plain(hours[0])} hours (short-day kinds), {plain(hours[1])} (intermediate) "
                    f"or {plain(hours[2])} (long-day)"
                )
            sentences.append(
                f"Bulbs swell in days of at least {need}; those too small to lift when days are "
                f"shorter again stay thick-necked {self.cite(bulbing.source)}."
            )
            if bulbing.too_long_h is not None:
                sentences.append(
                    f"Short-day kinds bulb in days of {plain(bulbing.too_long_h)} hours even if "
                    "they have few leaves: those planted late stay small."
                )
        if crop.short_days is not None:
            short = crop.short_days
            sentences.append(
                f"It makes {short.stage} only once days are shorter than "
                f"{plain(short.day_length_h)} hours {self.cite(short.source)}."
            )
        return sentences

    def harvest(self) -> list[str]:
        sentences = []
        if self.crop.cut_from_share < 1:
            sentences.append(
                "It can be harvested small, before heat or frost ends it, once it has had "
                f"{percent(self.crop.cut_from_share)} of the heat of its last stage "
                f"{self.cite(COMMON_PRACTICE)}."
            )
        if self.crop.lifting is not None:
            lifting = self.crop.lifting
            sentences.append(
                f"It is lifted at any size once growth stops in autumn, from "
                f"{plain(lifting.days)} days after the start {self.cite(lifting.source)}."
            )
        if self.crop.picking_share > 0:
            sentences.append(
                f"It is picked for weeks, until it has had {percent(self.crop.picking_share)} more "
                f"heat than at its first harvest {self.cite(COMMON_PRACTICE)}."
            )
        return sentences


def _does_harm_first(cold: Cold) -> bool:
    return cold.killed_at_c < cold.damaged_at_c - _NEARLY_SAME_C


def _same(one: Cold, other: Cold) -> bool:
    return (one.damaged_at_c, one.killed_at_c) == (other.damaged_at_c, other.killed_at_c)


def _number_span(low: int, high: int) -> str:
    return f"{low}" if low == high else f"{low} to {high}"
