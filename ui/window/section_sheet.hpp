// Inside of the section: what its parts share. section_profile.cpp works out what lies where, section.cpp draws it,
// section_field.cpp the field's lines and the receiver over it.
#pragma once

#include "ui/window/drafting.hpp"
#include "ui/window/plan.hpp"

#include <optional>
#include <vector>

namespace sondeyard::ui {

// The section is unfolded along the run: s is the length in plan from the sonde, downstream positive, so that falls
// come out true round bends; t is height from the datum, the surface over the sonde in a drawn yard. Without a run the
// plane stands along the sonde's own axis.
struct ProfilePoint {
    double s = 0.0;
    double t = 0.0;
};

struct Profile {
    std::vector<ProfilePoint> pipe;  // centre line; empty when there is no run
    std::vector<glm::dvec2> track_m; // where its points are in plan
    const field::Terrain* terrain = nullptr;
    glm::dvec2 origin_m{0.0};   // sonde, in plan
    glm::dvec2 ahead{0.0, 1.0}; // the way s grows, at the sonde
    double outside_m = 0.0;
    double inside_m = 0.0;

    double s_of(const glm::dvec2& yard_m) const { return glm::dot(yard_m - origin_m, ahead); }
    // Along the run, and straight on beyond its ends.
    glm::dvec2 place_at(double s) const {
        for (std::size_t i = 1; i < pipe.size(); ++i) {
            const double piece = pipe[i].s - pipe[i - 1].s;
            if (piece > 1e-9 && (s <= pipe[i].s || i + 1 == pipe.size()) && s >= pipe[0].s) {
                return track_m[i - 1] + (track_m[i] - track_m[i - 1]) * ((s - pipe[i - 1].s) / piece);
            }
        }
        return origin_m + s * ahead;
    }
    bool flat() const { return field::is_flat(*terrain); }
    double ground_t(double s) const { return flat() ? 0.0 : field::height_m(*terrain, place_at(s)); }
    double ground_t(const glm::dvec2& yard_m) const { return field::height_m(*terrain, yard_m); }
    double aside_of(const glm::dvec2& yard_m) const { // to the right of ahead
        return glm::dot(yard_m - origin_m, glm::dvec2{ahead.y, -ahead.x});
    }
};

Profile profile_of(const field::World& world);

struct SectionSheet {
    ImDrawList& list;
    const Theme& theme;
    Box box;
    Box drawing; // inside the margins for the heights and the labels
    double px_per_m = 100.0;
    double s_left = 0.0; // at the drawing's left edge
    double t_top = 0.0;  // at the drawing's upper edge
    double ground_high_t = 0.0;

    const Palette& ink() const { return theme.palette; }
    float px(double metres) const { return static_cast<float>(metres * px_per_m); }
    ImVec2 at(double s, double t) const {
        return {static_cast<float>(drawing.low.x + (s - s_left) * px_per_m),
                static_cast<float>(drawing.low.y + (t_top - t) * px_per_m)};
    }
    double right_s() const { return s_left + (drawing.high.x - drawing.low.x) / px_per_m; }
    double low_t() const { return t_top - (drawing.high.y - drawing.low.y) / px_per_m; }
};

// What lies so far off that drawing it would shrink the pipe to a thread is left outside, with an arrow in its place.
inline constexpr double farthest_shown_m = 4.0;
inline constexpr double receiver_room_m = 0.75; // over the ground, for the receiver

struct Facts {            // what the section shows beside ground and pipe
    double sonde_s = 0.0; // of the sonde that counts; the section's middle is the stop
    double sonde_t = 0.0;
    double sonde_top_t = 0.0;      // of the surface over it
    std::optional<double> other_s; // of the other one, when the cable had been moved
    field::DigTarget target;
    double target_s = 0.0;
    double surface_t = 0.0; // where depths of pipe and dig count from: over the box's middle, or the fault
    std::optional<double> locate_s;
    double locate_t = 0.0; // of the surface there
    std::optional<double> call_m;
    double dig_low_s = 0.0;
    double dig_high_s = 0.0;
    double dig_depth_m = 0.0;
    bool dig = false;
    double dig_aside_m = 0.0; // how far the hole stays clear of this plane, 0 when the plane cuts it
};

Facts facts_of(const field::World& world, const field::Notebook& notebook, const field::LocatedSonde& located,
               const Profile& profile);
// `with_field`: room for the receiver over the ground and for the lines round the sonde.
void choose_scale(SectionSheet& sheet, const Profile& profile, const Facts& facts, bool with_field);

// section_field.cpp
void draw_field_lines(SectionSheet& sheet, const SectionField& field, LabelBoard& labels);
void draw_receiver(SectionSheet& sheet, const Profile& profile, const SectionField& field, LabelBoard& labels);

} // namespace sondeyard::ui
