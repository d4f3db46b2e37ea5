// A work log carries its scenario in resolved form: between a World and a log's header, both ways.
#pragma once

#include "field/work_log.hpp"
#include "scenarios/scenario.hpp"

namespace sondeyard::scenarios {

field::LogHeader log_header(const field::World& world, std::string program_version);

// The World that the log was worked in. Throws ScenarioError, with places in the header's scenario text.
field::World world_of(const field::LogHeader& header, std::string_view log_name);

} // namespace sondeyard::scenarios
