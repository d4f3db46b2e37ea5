// The commands that work without a window. Each prints a table for people or, with json, one JSON document, to stdout,
// and throws BadInput (what, where, what is allowed) with nothing written. Returns the exit code: 0 done, 1 the answer
// is no.
#pragma once

#include "field/lengths.hpp"

#include <cstdint>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

namespace sondeyard::ui {

struct BadInput : std::runtime_error {
    using std::runtime_error::runtime_error;
};

inline constexpr std::uint64_t default_seed = 1;

struct ProbeOptions {
    std::string scenario;
    std::filesystem::path points; // CSV x_m,y_m,z_m
    std::uint64_t seed = default_seed;
    bool json = false;
};
// CSV x_m,y_m,z_m,bx_re_T,...: the true field, no noise, full precision.
int probe(const ProbeOptions& options);

struct GenerateOptions {
    std::optional<std::string> scenario; // none: a yard of any kind
    std::uint64_t seed = default_seed;
    std::optional<std::filesystem::path> out; // none: stdout. An existing file is left alone
    bool json = false;
};
int generate(const GenerateOptions& options);

struct CheckOptions {
    std::vector<std::string> scenarios;
    int seeds = 20; // how many of them are drawn and built
    bool json = false;
};
int check(const CheckOptions& options);

struct LogOptions {
    std::filesystem::path log;
    field::Units units = field::Units::metric; // of what is printed for people
    bool json = false;
};
int replay(const LogOptions& options);
int score(const LogOptions& options);

struct OperateOptions {
    std::string scenario;
    std::string who;
    std::uint64_t seed = default_seed;
    std::optional<std::filesystem::path> log;
    field::Units units = field::Units::metric;
    bool json = false;
};
int operate(const OperateOptions& options);

struct ProgressOptions {
    std::optional<std::string> person; // none: everybody
    std::optional<std::filesystem::path> csv;
    std::optional<std::string> remove; // who is deleted
    bool yes = false;                  // without it nothing is
    bool logs = false;                 // their work logs too
    field::Units units = field::Units::metric;
    bool json = false;
};
int progress(const ProgressOptions& options);

struct BenchOptions {
    bool json = false;
    bool quick = false; // a tenth of the time, for a look; figures are noisier
};
int bench(const BenchOptions& options);

// Lengths as typed, read by field::parse_length; a number alone is in the units asked for.
struct TiltFixOptions {
    std::optional<std::string> spacing; // of plumb points A and B; needed
    std::optional<std::string> depth;   // as read; needed
    std::string read_at = "peak";       // or "sonde"
    std::string stronger;               // "A", "B" or empty
    std::optional<double> signal_a_db;
    std::optional<double> signal_b_db;
    std::optional<double> ratio; // of the weaker signal to the stronger
    std::optional<std::string> level_from_a;
    std::optional<std::string> rise; // of the ground from A to B
    std::optional<std::string> antenna_spacing;
    std::optional<std::string> antenna_above_tip;
    std::optional<std::string> mark_error;    // one standard deviation each
    std::optional<std::string> spacing_error; // or this
    std::optional<std::string> depth_error;
    std::optional<double> signal_error_db;
    std::string units = "metric";
    bool derivation = false; // print that and nothing else
    bool json = false;
};
// The tilt fix of a pencil-and-tape locate. 1: it cannot be trusted, and why.
int tiltfix(const TiltFixOptions& options);

// Lists the bundled exercises, and the lessons of the course.
int list_scenarios(bool json);
int list_lessons(bool json);

} // namespace sondeyard::ui
