#include "scenarios/log_header.hpp"

#include <fmt/format.h>

namespace sondeyard::scenarios {

field::LogHeader log_header(const field::World& world, std::string program_version) {
    field::LogHeader header;
    header.program = std::move(program_version);
    header.scenario_toml = to_toml(world);
    header.scenario_sha256 = field::sha256_hex(header.scenario_toml);
    header.seed = world.seed;
    header.instrument = std::string(sim::name_of(world.receiver.kind));
    return header;
}

field::World world_of(const field::LogHeader& header, std::string_view log_name) {
    return resolve(parse_scenario(header.scenario_toml, fmt::format("{}: scenario", log_name)), header.seed);
}

} // namespace sondeyard::scenarios
