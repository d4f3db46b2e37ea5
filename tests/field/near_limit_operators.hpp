// Exercises drawn on both sides of each limit of the coach, on a bare lawn: an operator that knows where the spots of
// the sonde lie (the closed forms of a dipole under flat ground) does exactly what it is told, with one figure drawn
// just short of a limit or just past it. What is due is labelled by those orders and by where the sonde lies, never by
// what the score or the coach makes of the exercise.
#pragma once

#include "tests/field/faulty_operators.hpp"

#include <functional>

namespace sondeyard::test {

void work_near_limits(std::uint64_t seed,
                      const std::function<void(const field::Setting& setting, const Faulty& exercise)>& use);

} // namespace sondeyard::test
