// Reading a text file whole, and writing a new one whole or not at all.
#pragma once

#include <cstdint>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

namespace sondeyard::field {

struct FileError : std::runtime_error { // "path: what is wrong; what is allowed"
    using std::runtime_error::runtime_error;
};

// The bytes of an ordinary file. Throws FileError when there is none, when it is a folder, device or pipe, cannot be
// read, or is longer than most_bytes. `wanted` names what should be there: "a work log".
std::string read_file(const std::filesystem::path& path, std::uintmax_t most_bytes, std::string_view wanted);

// Written to a temporary name beside it and renamed, so that nobody ever sees half of it. Throws FileError when a file
// of that name exists (it is left alone) or the text cannot be written (nothing is left behind).
void write_new_file(const std::filesystem::path& path, std::string_view text);

} // namespace sondeyard::field
