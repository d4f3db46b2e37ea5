// The entry point of every doctest program. A file of its own because it takes seconds to compile and never changes.
#define DOCTEST_CONFIG_IMPLEMENT_WITH_MAIN
#include <doctest/doctest.h>
