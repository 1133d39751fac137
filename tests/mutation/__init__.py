"""Mutation check: does a test fail when a line of the model or of the calls is wrong?"""
