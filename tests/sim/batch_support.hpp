// What the tests of many fields at once share.
#pragma once

#include "sim/batch.hpp"
#include "tests/sim/support.hpp"

#include <hwy/targets.h>

#include <cstdint>

namespace sondeyard::test {

// One set of instructions after another for as long as it lives; then the best again.
class EachTarget {
public:
    EachTarget() : left_(hwy::SupportedTargets() & HWY_TARGETS & ~HWY_AVX3_DL) {}
    ~EachTarget() {
        hwy::SetSupportedTargetsForTest(0);
        hwy::GetChosenTarget().DeInit();
    }
    EachTarget(const EachTarget&) = delete;
    EachTarget& operator=(const EachTarget&) = delete;

    bool next() {
        if (left_ == 0) {
            return false;
        }
        hwy::SetSupportedTargetsForTest(left_ & -left_);
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        left_ &= left_ - 1;
        return true;
    }

private:
    std::int64_t left_;
};

struct Arrays {
    std::vector<double> x, y, z;

    explicit Arrays(std::size_t n, double value = 0.0) : x(n, value), y(n, value), z(n, value) {}
    sim::PlacesSoA places(std::size_t from, std::size_t n) const {
        return {std::span(x).subspan(from, n), std::span(y).subspan(from, n), std::span(z).subspan(from, n)};
    }
    sim::FieldsSoA fields(std::size_t from, std::size_t n) {
        return {std::span(x).subspan(from, n), std::span(y).subspan(from, n), std::span(z).subspan(from, n)};
    }
    glm::dvec3 at(std::size_t i) const { return {x[i], y[i], z[i]}; }
};

} // namespace sondeyard::test
