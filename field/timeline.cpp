#include "field/timeline.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sondeyard::field {

namespace {

struct Kinds {
    EventKind operator()(const PlaceMark& /*c*/) const { return EventKind::mark; }
    EventKind operator()(const MoveMark& /*c*/) const { return EventKind::mark; }
    EventKind operator()(const TakeBack& /*c*/) const { return EventKind::mark; }
    EventKind operator()(const ReadDepth& /*c*/) const { return EventKind::reading; }
    EventKind operator()(const DeleteReading& /*c*/) const { return EventKind::reading; }
    EventKind operator()(const CallDepth& /*c*/) const { return EventKind::dig; }
    EventKind operator()(const CallTilt& /*c*/) const { return EventKind::dig; }
    EventKind operator()(const ProposeDig& /*c*/) const { return EventKind::dig; }
    EventKind operator()(const TakeBackDig& /*c*/) const { return EventKind::dig; }
    EventKind operator()(const TruckCheck& /*c*/) const { return EventKind::paper; }
    EventKind operator()(const ReadTicket& /*c*/) const { return EventKind::paper; }
    EventKind operator()(const Undo& /*c*/) const { return EventKind::paper; }
    EventKind operator()(const SetFrequency& /*c*/) const { return EventKind::receiver; }
    EventKind operator()(const TurnCoil& /*c*/) const { return EventKind::receiver; }
    EventKind operator()(const SetBandwidth& /*c*/) const { return EventKind::receiver; }
    EventKind operator()(const TurnBy& /*c*/) const { return EventKind::receiver; }
    EventKind operator()(const AskCable& /*c*/) const { return EventKind::cable; }
    EventKind operator()(const Finish& /*c*/) const { return EventKind::end; }
};

std::string reading_text(const Reading& r, Units units) {
    std::string words = r.depth_m ? fmt::format("depth {}", length_text(*r.depth_m, units)) : "depth reading: too weak";
    if (!r.depth_m) {
        return words;
    }
    if (r.agreement) {
        words += fmt::format(", facing, agrees within {:.1f} %", 100.0 * *r.agreement);
    }
    if (r.tip_height_m > tip_down_m) {
        words += fmt::format(", tip {} up", length_text(r.tip_height_m, units));
    }
    if (r.lean_deg >= plumb_lean_deg) {
        words += fmt::format(", mast leans {:.1f}°", r.lean_deg);
    }
    return words;
}

struct Words {
    const Event& event;
    Units units;

    std::string operator()(const PlaceMark& c) const {
        return c.kind == MarkKind::locate ? "locate marked" : fmt::format("{} marked", named(c.kind));
    }
    std::string operator()(const MoveMark& /*c*/) const { return "mark moved"; }
    std::string operator()(const TakeBack& c) const { return fmt::format("{} taken back", named(c.kind)); }
    std::string operator()(const ReadDepth& /*c*/) const {
        return event.reading ? reading_text(*event.reading, units) : "depth reading";
    }
    std::string operator()(const DeleteReading& /*c*/) const { return "reading struck out"; }
    std::string operator()(const CallDepth& c) const {
        return fmt::format("depth called {}", length_text(c.depth_m, units));
    }
    std::string operator()(const CallTilt& c) const {
        std::string words = fmt::format("tilt called {}", c.call == TiltCall::on_end ? "on end" : name_of(c.call));
        return c.tilt_deg && c.call == TiltCall::tilted ? words + fmt::format(" {:.0f}°", *c.tilt_deg) : words;
    }
    std::string operator()(const ProposeDig& c) const {
        std::string words = "dig box";
        if (c.box.depth_m > 0.0) {
            words += fmt::format(" {} deep", length_text(c.box.depth_m, units));
        }
        return c.box.method == DigMethod::none ? words : words + fmt::format(", {}", name_of(c.box.method));
    }
    std::string operator()(const TakeBackDig& /*c*/) const { return "dig box taken back"; }
    std::string operator()(const TruckCheck& /*c*/) const {
        if (!event.check) {
            return "check at the truck";
        }
        return event.check->depth_m
                   ? fmt::format("check at the truck: reads {}", length_text(*event.check->depth_m, units))
                   : fmt::format("check at the truck: {:.1f} dBpT", event.check->signal_dbpt);
    }
    std::string operator()(const ReadTicket& /*c*/) const { return "ticket read"; }
    std::string operator()(const Undo& /*c*/) const { return "undone"; }
    std::string operator()(const SetFrequency& c) const {
        return fmt::format("set to {}", frequency_text(c.frequency_hz));
    }
    std::string operator()(const TurnCoil& c) const {
        return c.attitude == sim::CoilAttitude::level ? "coil level" : "coil upright";
    }
    std::string operator()(const SetBandwidth& c) const { return fmt::format("band {}", sim::name_of(c.bandwidth)); }
    std::string operator()(const TurnBy& c) const {
        const double turn = std::abs(c.angle_deg);
        return turn > 170.0 ? "half round" : fmt::format("turned {:.0f}°", turn);
    }
    std::string operator()(const AskCable& c) const {
        return fmt::format("cable {} {}", c.by_m < 0.0 ? "pulled back" : "pushed on",
                           round_text(std::abs(c.by_m), units));
    }
    std::string operator()(const Finish& /*c*/) const { return "finished"; }

    static std::string_view named(MarkKind kind) {
        switch (kind) {
        case MarkKind::plumb:
            return "plumb point";
        case MarkKind::level:
            return "level line";
        case MarkKind::peak:
            return "peak";
        case MarkKind::locate:
            break;
        }
        return "locate";
    }
};

Moment moment_of(const Observation& seen) {
    return {seen.signal_dbpt, seen.has_axis ? static_cast<float>(std::abs(seen.dip_deg)) : -1.0F,
            static_cast<float>(seen.tip_height_m), static_cast<float>(seen.hum_dbpt)};
}

} // namespace

EventKind kind_of(const Event& event) { return std::visit(Kinds{}, event.command); }

std::string event_text(const Event& event, Units units) {
    std::string words = std::visit(Words{event, units}, event.command);
    return event.refused ? fmt::format("not done: {}", words) : words;
}

void Timeline::take(const std::optional<Command>& command, const Observation& seen, const ExerciseState& state) {
    moments.push_back(moment_of(seen));
    if (!command) {
        return;
    }
    Event event{seen.tick, *command, seen.refused, std::string(seen.note), std::nullopt, std::nullopt};
    if (std::holds_alternative<ReadDepth>(*command) && !seen.refused && !state.notebook.readings.empty()) {
        event.reading = state.notebook.readings.back();
    }
    if (std::holds_alternative<TruckCheck>(*command) && !seen.refused && !state.truck_checks.empty()) {
        event.check = state.truck_checks.back();
    }
    events.push_back(std::move(event));
}

const Event* event_after(const Timeline& timeline, std::int64_t tick) {
    const auto found = std::ranges::upper_bound(timeline.events, tick, {}, &Event::tick);
    return found == timeline.events.end() ? nullptr : &*found;
}

const Event* event_before(const Timeline& timeline, std::int64_t tick) {
    const auto found = std::ranges::lower_bound(timeline.events, tick, {}, &Event::tick);
    return found == timeline.events.begin() ? nullptr : &*(found - 1);
}

std::vector<float> trail_speeds_m_s(std::span<const TrailPoint> trail) {
    std::vector<float> raw(trail.size(), 0.0F);
    for (std::size_t i = 1; i < trail.size(); ++i) {
        const auto ticks = static_cast<double>(trail[i].tick - trail[i - 1].tick);
        raw[i] = ticks > 0.0 ? static_cast<float>(glm::distance(trail[i].tip_m, trail[i - 1].tip_m) / (ticks * tick_s))
                             : raw[i - 1];
    }
    constexpr std::size_t half = 2;
    std::vector<float> smooth(raw.size(), 0.0F);
    for (std::size_t i = 0; i < raw.size(); ++i) {
        const std::size_t from = std::max(i, half) - half;
        const std::size_t to = std::min(i + half + 1, raw.size());
        float sum = 0.0F;
        for (std::size_t k = from; k < to; ++k) {
            sum += raw[k];
        }
        smooth[i] = sum / static_cast<float>(to - from);
    }
    return smooth;
}

std::vector<Span> decimated(std::span<const float> values, int columns) {
    constexpr float none = std::numeric_limits<float>::quiet_NaN();
    std::vector<Span> spans(static_cast<std::size_t>(std::max(columns, 0)), Span{none, none});
    const std::size_t n = values.size();
    for (std::size_t k = 0; k < spans.size() && n > 0; ++k) {
        const std::size_t from = k * n / spans.size();
        const std::size_t to = std::max(from + 1, (k + 1) * n / spans.size());
        for (std::size_t i = from; i < to; ++i) {
            const float value = values[i];
            if (std::isfinite(value)) {
                Span& span = spans[k];
                span.low = std::isnan(span.low) ? value : std::min(span.low, value);
                span.high = std::isnan(span.high) ? value : std::max(span.high, value);
            }
        }
    }
    return spans;
}

} // namespace sondeyard::field
