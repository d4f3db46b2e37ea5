// The course: its lessons by name and in order, and lessons out of files. How one is written down: lesson_reader.cpp.
#include "scenarios/lesson.hpp"

#include "field/files.hpp"
#include "scenarios/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

namespace sondeyard::scenarios {

std::span<const BundledFile> bundled_lesson_files(); // generated at build time from lessons/

namespace {

const BundledFile* find_bundled_lesson(std::string_view name) {
    const auto files = bundled_lesson_files();
    const auto at = std::ranges::find(files, name, &BundledFile::name);
    return at == files.end() ? nullptr : &*at;
}

} // namespace

bool is_lesson(std::string_view text) {
    for (std::size_t at = 0; at < text.size();) { // line by line: it may not be whole TOML
        const std::size_t end = std::min(text.find('\n', at), text.size());
        std::string_view line = text.substr(at, end - at);
        line.remove_prefix(std::min(line.find_first_not_of(" \t"), line.size()));
        if (line.starts_with("lesson_format")) {
            return true;
        }
        at = end + 1;
    }
    return false;
}

LessonFile load_lesson(const std::filesystem::path& file) {
    try {
        return parse_lesson(field::read_file(file, largest_file_bytes, "a lesson file"), file.string());
    } catch (const field::FileError& e) {
        throw ScenarioError({e.what()});
    }
}

std::vector<std::string> bundled_lesson_names() {
    std::vector<std::string> names;
    for (const BundledFile& file : bundled_lesson_files()) {
        names.emplace_back(file.name);
    }
    return names;
}

LessonFile bundled_lesson(std::string_view name) {
    const BundledFile* file = find_bundled_lesson(name);
    if (file == nullptr) {
        throw std::out_of_range(fmt::format("no bundled lesson is named \"{}\"", name));
    }
    return parse_lesson(file->text, fmt::format("{}.toml", name));
}

std::vector<field::LessonTopic> bundled_lesson_topics() {
    std::vector<field::LessonTopic> topics;
    for (const std::string& name : bundled_lesson_names()) {
        topics.push_back({name, bundled_lesson(name).lesson.helps_with});
    }
    return topics;
}

LessonFile find_lesson(const std::string& path_or_name) {
    std::error_code error;
    if (!std::filesystem::exists(path_or_name, error)) {
        if (find_bundled_lesson(path_or_name) != nullptr) {
            return bundled_lesson(path_or_name);
        }
        throw ScenarioError(
            {fmt::format("{0}:1:1: lesson: found neither a file nor a bundled lesson \"{0}\"; allowed: a "
                         "lesson file (TOML), or one of {1}",
                         path_or_name, fmt::join(bundled_lesson_names(), ", "))});
    }
    return load_lesson(path_or_name);
}

} // namespace sondeyard::scenarios
